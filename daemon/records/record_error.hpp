#pragma once

#include <boost/system/result.hpp>

#include <string>

namespace stillmark::records {

/// Why there is no document: the place, what was found, what would do.
struct RecordError {
    std::string message;
};
template <class T>
using RecordResult = boost::system::result<T, RecordError>;
[[noreturn]] void throw_exception_from_error(const RecordError& error, const boost::source_location& at);

} // namespace stillmark::records
