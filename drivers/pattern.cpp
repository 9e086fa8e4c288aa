// The optimiser of g++ 12 takes the library's own std::function for uninitialised when sanitizers are on.
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC diagnostic ignored "-Wmaybe-uninitialized"
#endif
#include "drivers/pattern.hpp"

namespace stillmark::drivers {

std::optional<std::regex> compile_pattern(const std::string& pattern, std::string& why) {
    try {
        return std::regex(pattern, std::regex::ECMAScript | std::regex_constants::__polynomial);
    } catch (const std::regex_error& error) {
        why = error.what();
        return std::nullopt;
    }
}

} // namespace stillmark::drivers
