"""The rules of threads and clocks that a machine can check: messages cross, nothing else."""
import re
import unittest

from house.sources import cpp_files, end_of_bracket, line_of, only_code, text_of

# What is given to these runs later, or elsewhere, when the frame that `[&]` refers to is gone.
LATER = re.compile(
    r"\b(?:(?:post|dispatch|defer|co_spawn|async_\w+|bind_executor|thread|jthread)\s*(?:<[^<>;]*>)?\s*(?P<open>\()"
    r"|(?:BusSinks|WriterSinks)\s*(?:\w+\s*)?(?P<brace>\{)"
    r"|sinks?_?\.\w+\s*=\s*(?P<assigned>\[))")
DEFAULT_CAPTURE = re.compile(r"\[\s*[&=]\s*[\],]")

FORBIDDEN = {
    "daemon/bench": [
        (r"\bstd::(?:recursive_|shared_|timed_)?mutex\b|\bstd::(?:lock_guard|unique_lock|scoped_lock)\b", "a mutex"),
        (r"\bstd::(?:jthread|thread|async)\b", "a thread"),
        (r"\bstatic\s+thread_local\b|\bthread_local\b", "state of a thread"),
    ],
    "daemon/metrology": [],
}
CLOCK = re.compile(r"\b(?:system_clock|steady_clock|clock_gettime|gettimeofday|CLOCK_\w+|utc_clock)\b"
                   r"|(?<![\w.:>])(?:std::)?(?:time|clock)\s*\(")


def default_captures(path, text):
    code = only_code(text)
    found = []
    for call in LATER.finditer(code):
        if call.group("assigned"):
            spots = [call.start("assigned")]
        else:
            start = call.start("open") if call.group("open") else call.start("brace")
            spots = own_arguments(code, start)
        for spot in spots:
            if DEFAULT_CAPTURE.match(code, spot):
                found.append(f"{path}:{line_of(code, spot)}: name what is captured: it runs later")
    return found


def own_arguments(code, start):
    """Where brackets open in the arguments themselves, not inside a lambda's body or a further call."""
    spots = []
    i = start + 1
    end = end_of_bracket(code, start) - 1
    while i < end:
        if code[i] == "[":
            spots.append(i)
        i = end_of_bracket(code, i) if code[i] in "([{" else i + 1
    return spots


def clocks_and_locks(path, text, folder):
    code = only_code(text)
    found = [f"{path}:{line_of(code, m.start())}: {folder} holds no {what.removeprefix('a ')}"
             for pattern, what in FORBIDDEN[folder] for m in re.finditer(pattern, code)]
    return found + [f"{path}:{line_of(code, m.start())}: time enters {folder} as a stamp, never from a clock"
                    for m in CLOCK.finditer(code)]


class Threads(unittest.TestCase):
    def test_nothing_that_runs_later_captures_by_default(self):
        paths = [p for folder in ("daemon/acquisition", "daemon/decider", "daemon/gateway", "daemon/journal", "daemon/people",
                                       "protocols")
                 for p in cpp_files(folder)]
        self.assertGreater(len(paths), 5)
        found = [b for p in paths for b in default_captures(p, text_of(p))]
        self.assertEqual(found, [], "\n" + "\n".join(found))

    def test_the_reducer_and_the_core_know_no_clock_and_no_lock(self):
        found = []
        for folder in FORBIDDEN:
            for p in cpp_files(folder):
                found += clocks_and_locks(p, text_of(p), folder)
        self.assertEqual(found, [], "\n" + "\n".join(found))

    def test_a_breach_is_seen(self):
        for bad in ("boost::asio::post(io, [&] { go(); });",
                    "post(io,\n     [=, this]() { go(); });",
                    "timer.async_wait([&](auto) {});",
                    "std::jthread([&] { run(); });",
                    "sinks.reading = [&](const Reading& r) { take(r); };",
                    "BusThread(plan, BusSinks{[&](const Reading&) {}, {}});"):
            self.assertEqual(len(default_captures("x.cpp", bad)), 1, bad)
        for good in ("post(io, [this, n] { std::ranges::any_of(a, [&](int x) { return x == n; }); });",
                     "std::ranges::sort(a, [&](int x, int y) { return key[x] < key[y]; });",
                     "// post(io, [&] {})",
                     "compost(io, [&] {});"):
            self.assertEqual(default_captures("x.cpp", good), [], good)
        for bad in ("auto t = std::chrono::system_clock::now();", "std::mutex m;", "x = time(nullptr);"):
            self.assertEqual(len(clocks_and_locks("x.cpp", bad, "daemon/bench")), 1, bad)
        for good in ("settle_time(x);", "state.time(x);", "// a mutex", "waiting_time (x);"):
            self.assertEqual(clocks_and_locks("x.cpp", good, "daemon/bench"), [], good)


if __name__ == "__main__":
    unittest.main()
