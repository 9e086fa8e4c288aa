"""Deliberate faults of sessions, the throttle and the log-in: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/people/"
SESSIONS, THROTTLE, RECEPTION = ROOM + "sessions.cpp", ROOM + "throttle.cpp", ROOM + "reception.cpp"


class LogIns(fault.Faults):
    FAULTS = [
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
        Fault("a name that nobody has answers at once", RECEPTION, "user != nullptr ? user->password_hash : nobody_;",
              "user != nullptr ? user->password_hash : std::string();", "people", "Reception.ANameThat*"),
        Fault("who was turned away has guessed wrongly", RECEPTION,
              "    if (taken) return;\n    throttle_.not_checked(name, address);", "    if (taken) return;", "people",
              "Reception.TheQueue*"),
        Fault("sessions survive the password", RECEPTION,
              "if (now == nullptr || *now != user) sessions_.close_all_of(user.name);", "(void)now;", "people", "Reception.ANewPassword*"),
        Fault("an old password lets in", RECEPTION, " || user->password_hash != against", "", "people", "Reception.APasswordThat*"),
        Fault("as many hashes as are asked for", RECEPTION, "running_ < most_at_once && ", "", "people", "Reception.AtMostTwo*"),
        Fault("one who floods fills the queue", RECEPTION, " || of_address >= most_of_an_address", "", "people",
              "Reception.OneWho*"),
        Fault("a queue without an end", RECEPTION, "waiting_.size() >= most_waiting || ", "", "people", "Reception.TheQueue*"),
        Fault("an old look undoes a change", RECEPTION, "if (self.changes_ != changes) return;", "if (false) return;",
              "people", "Reception.ALook*"),
    ]


if __name__ == "__main__":
    unittest.main()
