#pragma once

namespace stillmark::cli {

/// What the program's exit says to a script; the same list stands in stillmark(1).
enum class Exit : int {
    done = 0,
    answer_is_no = 1, ///< the service refused, a mark differs, a run failed
    wrong_use = 2,    ///< the command line, a file or a text in it
    unreachable = 3,  ///< no usable answer came from a service
    internal = 4,     ///< including: the service could not record, and so nothing happened
};

constexpr int code(Exit exit) {
    return static_cast<int>(exit);
}

} // namespace stillmark::cli
