"""Deliberate faults of the links to instruments: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

SILENCE = "protocols/bus_silence.cpp"
OWED = "protocols/owed_answers.cpp"
RTU = "protocols/modbus_rtu_link.cpp"
TCP = "protocols/modbus_tcp_link.cpp"
TEXT = "protocols/text_stream_link.hpp"
BY_TEXT = ("protocols/text_tcp_link.cpp", "protocols/text_serial_link.cpp")
PORT = "protocols/exclusive_port.cpp"
DESCRIPTOR = "protocols/descriptor.cpp"
OUTAGE, BUS_THREAD = "daemon/acquisition/outage.cpp", "daemon/acquisition/bus_thread.cpp"


class Protocols(fault.Faults):
    FAULTS = [
        Fault("an identification that every reading fits", "drivers/profile.cpp",
              "if (std::regex_match(reading, identification.pattern)) {", "if (false) {", "drivers", "Profile.AnIdentification*"),
        Fault("another kind of fault waits five minutes", OUTAGE, "const auto line = lines_us_.find(what);",
              "const auto line = lines_us_.begin();", "acquisition", "Outage.*"),
        Fault("repeats of a fault are said each time", OUTAGE, "lines_us_[what] = now_us;", "lines_us_[what] = now_us - between_repeats_us;",
              "acquisition", "Outage.*"),
        Fault("what the wire gave is not told", BUS_THREAD, "if (reading.status != ReadingStatus::good && sinks_.fault)",
              "if (reading.status == ReadingStatus::silent && sinks_.fault)", "acquisition", "BusThread.TellsWhy*"),
        Fault("noise begins the patience again", SILENCE, "if (found.last_byte > patience)",
              "if (found.last_byte > wanted.last_byte + 3 * never_silent_after)", "protocols", "BusSilence.*"),
        Fault("a quarantine that noise ends", SILENCE,
              "std::max(found.last_byte + wanted.silence, wanted.quarantine_until)", "found.last_byte + wanted.silence",
              "protocols", "BusSilence.*"),
        Fault("silence counted from the first byte", SILENCE, "found.last_byte = line.now();",
              "if (found.stray.size() == 1) found.last_byte = line.now(); if (line.now() > patience) return Failure{Fault::bad_frame, {}};",
              "protocols", "BusSilence.*"),
        Fault("an answer that fits two requests is the latest's", OWED, "if (number == latest_) {", "if (true) {",
              "protocols", "OwedAnswers.*"),
        Fault("an answer leaves what was owed before it", OWED, "owed_.erase(owed_.begin(), oldest + 1);",
              "owed_.erase(oldest);", "protocols", "OwedAnswers.*"),
        Fault("an answer that came too soon is taken", OWED, "fits(request) && (may_be_own || request.number != latest_)",
              "fits(request)", "protocols", "OwedAnswers.*"),
        Fault("nobody stays one answer behind", OWED, "++behind_;", "behind_ = 1;", "protocols", "OwedAnswers.*"),
        Fault("a debt that is forgotten too early", OWED, "owed_.front().at < instant", "true", "protocols",
              "OwedAnswers.*"),
        Fault("a silence that needs no synchronisation", RTU, "if (!trusted && open_) {\n        server.synchronised = false;",
              "if (!trusted && open_) {", "protocols", "ModbusRtuLink.AfterASilence*"),
        Fault("a probe as long as a reading", RTU, "!server.counts.contains(probe.count) &&",
              "probe.count == request.count + 0 * probe.count &&", "protocols", "ModbusRtuLink.*Silence*:ModbusRtuLink.*Behind*"),
        Fault("two registers in one length", RTU, "++asked.count;", "asked.count = request.count;", "protocols",
              "ModbusRtuLink.TwoRegisters*"),
        Fault("a stray frame doubts nothing", RTU, "++doubted.doubts;", "", "protocols", "ModbusRtuLink.AFrameThat*"),
        Fault("an answer sooner than the line carries", RTU,
              "if (whose == OwedAnswers::Whose::older || took < soonest) {",
              "if (whose == OwedAnswers::Whose::older) {", "protocols", "ModbusRtuLink.*Sooner*"),
        Fault("a late line is not waited for", TEXT, "    if (!owed_.empty()) {\n        if (const auto silent = listen(deadline)) return silent;",
              "    if (false) {\n        if (const auto silent = listen(deadline)) return silent;", "protocols", "TextLinkOn/*Silence*",
              BY_TEXT),
        Fault("a stray line doubts nothing", TEXT, "++doubts_;", "", "protocols", "TextLinkOn/*", BY_TEXT),
        Fault("an identification that is never asked", TEXT, "identification_.fits && (knows_identification_ ==",
              "false && (knows_identification_ ==", "protocols", "TextLinkOn/*Identification*", BY_TEXT),
        Fault("a port without a lock", PORT, "if (flock(port.descriptor_, LOCK_EX | LOCK_NB) != 0) return refusal(device);",
              "", "protocols", "ExclusivePort.*"),
        Fault("a holder without its number", PORT, "return fmt::format(\"{} (process {})\", name.empty() ? \"a program\" : name, *process);",
              "return name;", "protocols", "ExclusivePort.*"),
        Fault("bytes between read and poll lose the adapter", DESCRIPTOR,
              "if (now == Readable::gone || told_of_bytes) return false;", "return false;", "protocols", "TakeWaiting.*"),
        Fault("the end of a connection is never told", DESCRIPTOR,
              "if (now == Readable::gone || told_of_bytes) return false;", "if (now == Readable::gone) return false; if (told_of_bytes) return true;",
              "protocols", "TakeWaiting.*"),
        Fault("another number is called silence", TCP, "        other_number_ = number;\n", "", "protocols",
              "ModbusTcpFaults.AnAnswerUnder*"),
        Fault("a plus before a minus", "drivers/decode_text.cpp", 'if (text.starts_with("+-")) return std::nullopt;', "",
              "drivers", "DecodeText.TwoSigns*"),
        Fault("the first of two numbers", "drivers/decode_text.cpp", "if (!number || holds_two_numbers(how, found)) return not_understood;",
              "if (!number) return not_understood;", "drivers", "DecodeText.OfTwoNumbers*"),
        Fault("a denormal number is a reading", "drivers/decode_registers.cpp",
              "if (is_denormal(raw, how.type)) return {0, ReadingStatus::not_a_number, true};", "", "drivers", "DecodeFloat.ADenormal*"),
        Fault("one refusal ends the questions", "daemon/acquisition/support_watch.hpp",
              "unsupported_ = !proven_ || in_row_ >= refusals_of_a_proven_instrument;", "unsupported_ = true;", "acquisition",
              "BusThread.OneUnsupported*", ["daemon/acquisition/bus_thread.cpp"]),
        Fault("nobody is asked again", "daemon/acquisition/bus_thread.cpp", "channels_[i].support.ask_again();", "",
              "acquisition", "BusThread.APerson*"),
        Fault("a doubt that takes nothing back", "daemon/acquisition/bus_thread.cpp",
              "if (answer.doubts_previous) take_back(channel, before_us);", "", "acquisition", "BusThread.ADoubt*"),
        Fault("a window is judged before its last reading holds", "daemon/decider/decider.cpp",
              "if (complete) return; // the next reading says whether the last one holds", "if (complete) return judge_window(channel);",
              "decider", "Decider.ADoubt*"),
    ]


if __name__ == "__main__":
    unittest.main()
