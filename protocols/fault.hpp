#pragma once

#include <boost/system/result.hpp>

#include <string>

namespace stillmark::protocols {

/// Trouble on the wire, named by what the poller does next.
enum class Fault {
    link_down,   ///< the adapter or connection is gone: reopen with back-off
    silent,      ///< no answer before the deadline: count it, slow down after several
    bad_frame,   ///< an answer that fails its checksum, address, function or length: ask again
    refused,     ///< the instrument answered that it cannot now: do not repeat within this poll
    unsupported, ///< the instrument does not know the function or the address: stop asking, say so once
};

/// A fault with words for a person: where it happened and what was found.
struct Failure {
    Fault fault;
    std::string detail;
};

/// The value that was read, or why there is none.
template <class T>
using Result = boost::system::result<T, Failure>;

/// Called by Result::value() on a failure; the house never calls value() without asking first, so this ends the
/// program.
[[noreturn]] void throw_exception_from_error(const Failure& failure, const boost::source_location& at);

} // namespace stillmark::protocols
