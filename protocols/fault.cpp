#include "protocols/fault.hpp"

#include <fmt/format.h>

#include <cstdlib>

namespace stillmark::protocols {

void throw_exception_from_error(const Failure& failure, const boost::source_location& at) {
    fmt::print(stderr, "{}:{}: a failure was taken for a value: {}\n", at.file_name(), at.line(), failure.detail);
    std::abort();
}

} // namespace stillmark::protocols
