#pragma once

#include <string>
#include <string_view>

namespace stillmark::bench {

/// A short name for a text: the same text has the same name everywhere. FNV-1a, 64 bit, as 16 hexadecimal digits;
/// it tells revisions apart and is no protection against anybody's intent.
std::string digest(std::string_view text);

} // namespace stillmark::bench
