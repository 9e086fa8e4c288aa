"""Deliberate faults of names, passwords, roles and the users file: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/people/"
HASH, NAMES, ROLES = ROOM + "password_hash.cpp", ROOM + "names.cpp", ROOM + "roles.cpp"
USERS, FILE = ROOM + "users.cpp", ROOM + "users_file.cpp"


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
        Fault("the last administrator goes", USERS,
              "is_administrator(*user) && std::ranges::count_if(users.list, is_administrator) == 1", "false", "people",
              "Users.TheLast*"),
        Fault("a name twice in the file", USERS, "if (users.find(user->name) != nullptr)\n", "if (false)\n", "people", "Users.AMistake*"),
        Fault("a key twice in the file", USERS, "if (!twice.empty())", "if (false)", "people", "Users.AMistake*"),
        Fault("everybody may read it", FILE, "(found.st_mode & 077U) != 0", "(found.st_mode & 022U) != 0", "people",
              "UsersFile.OneThat*"),
        Fault("everybody may put another there", FILE, "(found.st_mode & S_IWOTH) != 0 && ", "false && ", "people",
              "UsersFile.AFolder*"),
        Fault("written over in place", FILE, "::rename(beside.c_str(), path.c_str()) == 0",
              "::rename(beside.c_str(), (path + \".new\").c_str()) == 0", "people", "UsersFile.IsMade*"),
        Fault("half a file lies about", FILE, "        ::unlink(beside.c_str());\n", "", "people", "UsersFile.IsWritten*"),
        Fault("changes at the same time are lost", FILE, "if (const auto wrong = hold(folder, path)) return *wrong;", "",
              "people", "UsersFile.Changes*:UsersFile.Nobody*"),
    ]


if __name__ == "__main__":
    unittest.main()
