"""Deliberate faults of passwords, sessions, roles and the throttle: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/people/"
HASH, NAMES, ROLES, SESSIONS = ROOM + "password_hash.cpp", ROOM + "names.cpp", ROOM + "roles.cpp", ROOM + "sessions.cpp"
THROTTLE, USERS, FILE, RECEPTION = ROOM + "throttle.cpp", ROOM + "users.cpp", ROOM + "users_file.cpp", ROOM + "reception.cpp"


class People(fault.Faults):
    FAULTS = [
        Fault("the same salt for everybody", HASH,
              "if (RAND_bytes(hash.salt.data(), static_cast<int>(hash.salt.size())) != 1) return std::nullopt;", "",
              "people", "PasswordHash.The*"),
        Fault("half of the key is enough", HASH, "hash->key.data(), key->size()) == 0", "hash->key.data(), 0) == 0",
              "people", "PasswordHash.Fits*"),
        Fault("hashes that are cheap to guess", HASH, "n_r * cost.p >= least_work", "true", "people", "PasswordHash.Costs*"),
        Fault("hashes that eat the memory", HASH, "128 * n_r <= most_memory", "true", "people", "PasswordHash.Costs*"),
        Fault("overlong characters", NAMES, "c < least.at(*more) || ", "", "people", "Names.*"),
        Fault("names that look like another's", NAMES, "if (std::ranges::any_of(*found, is_invisible))", "if (false)",
              "people", "Names.*"),
        Fault("a password that everybody tries", NAMES, "is_one_step(*found) || ", "", "people", "Passwords.*"),
        Fault("a reviewer confirms", ROLES, '{"confirm", true, false}', '{"confirm", true, true}', "people", "Roles.*"),
        Fault("an operator adds users", ROLES, '{"users", false, false}', '{"users", true, false}', "people", "Roles.*"),
        Fault("what nobody thought of is allowed", ROLES, "if (right == rights.end()) return {};",
              "if (right == rights.end()) return {Role::bench_operator};", "people", "Roles.*"),
        Fault("sessions that never tire", SESSIONS, "now_us - session.used_us >= idle_us || ", "", "people", "Sessions.*"),
        Fault("sessions that never end", SESSIONS, " || now_us - session.opened_us >= longest_us", "", "people", "Sessions.*"),
        Fault("a late use revives", SESSIONS, "if (found != sessions_.end() && !is_over(found->second, now_us)) found",
              "if (found != sessions_.end()) found", "people", "Sessions.*"),
        Fault("others are pushed out", SESSIONS, "if (has_many && !is_his(*one)) continue;", "", "people", "Sessions.*"),
        Fault("one person fills the table", SESSIONS, "if (!has_many && sessions_.size() < most) return;",
              "if (sessions_.size() < most) return;", "people", "Sessions.*"),
        Fault("waits without an end", THROTTLE, "std::min(longest_wait_us, std::int64_t{1'000'000} << doublings)",
              "std::int64_t{1'000'000} << doublings", "people", "Throttle.*"),
        Fault("many at once", THROTTLE, "    ++count.wrong;\n", "    if (count.last_us != now_us) ++count.wrong;\n", "people",
              "Throttle.*"),
        Fault("the name is locked, not the pair", THROTTLE, "Address& at = addresses_[address];",
              "Address& at = addresses_[\"\"];", "people", "Throttle.*"),
        Fault("a list of names passes the waits", THROTTLE, "at.names.size() < most_names;", "true;", "people", "Throttle.*"),
        Fault("one's own name forgives others", THROTTLE,
              "if (at->second.names.erase(name) == 0) return not_checked(name, address);",
              "if (at->second.names.erase(name) == 0) at->second.beyond = {};", "people", "Throttle.*"),
        Fault("who guesses much is forgotten first", THROTTLE, "addresses_.erase(std::ranges::min_element(",
              "addresses_.erase(std::ranges::max_element(", "people", "Throttle.*"),
        Fault("a table without an end", THROTTLE, "if (!addresses_.contains(address)) make_room(now_us);", "", "people",
              "Throttle.*"),
        Fault("the last administrator goes", USERS,
              "is_administrator(*user) && std::ranges::count_if(users.list, is_administrator) == 1", "false", "people",
              "Users.*"),
        Fault("a name twice in the file", USERS, "if (users.find(user->name) != nullptr)\n", "if (false)\n", "people", "Users.*"),
        Fault("a key twice in the file", USERS, "if (!twice.empty())", "if (false)", "people", "Users.*"),
        Fault("everybody may read it", FILE, "(found.st_mode & 077U) != 0", "(found.st_mode & 022U) != 0", "people",
              "UsersFile.*"),
        Fault("everybody may put another there", FILE, "(found.st_mode & S_IWOTH) != 0 && ", "false && ", "people",
              "UsersFile.*"),
        Fault("written over in place", FILE, "::rename(beside.c_str(), path.c_str()) == 0",
              "::rename(beside.c_str(), (path + \".new\").c_str()) == 0", "people", "UsersFile.*"),
        Fault("half a file lies about", FILE, "        ::unlink(beside.c_str());\n", "", "people", "UsersFile.*"),
        Fault("changes at the same time are lost", FILE, "if (const auto wrong = hold(folder, path)) return *wrong;", "",
              "people", "UsersFile.*"),
        Fault("a name that nobody has answers at once", RECEPTION, "user != nullptr ? user->password_hash : nobody_;",
              "user != nullptr ? user->password_hash : std::string();", "people", "Reception.*"),
        Fault("who was turned away has guessed wrongly", RECEPTION,
              "    if (taken) return;\n    throttle_.not_checked(name, address);", "    if (taken) return;", "people",
              "Reception.*"),
        Fault("sessions survive the password", RECEPTION,
              "if (now == nullptr || *now != user) sessions_.close_all_of(user.name);", "(void)now;", "people", "Reception.*"),
        Fault("an old password lets in", RECEPTION, " || user->password_hash != against", "", "people", "Reception.*"),
        Fault("as many hashes as are asked for", RECEPTION, "running_ < most_at_once && ", "", "people", "Reception.*"),
        Fault("one who floods fills the queue", RECEPTION, " || of_address >= most_of_an_address", "", "people",
              "Reception.*"),
        Fault("a queue without an end", RECEPTION, "waiting_.size() >= most_waiting || ", "", "people", "Reception.*"),
        Fault("an old look undoes a change", RECEPTION, "if (self.changes_ != changes) return;", "if (false) return;",
              "people", "Reception.*"),
    ]


if __name__ == "__main__":
    unittest.main()
