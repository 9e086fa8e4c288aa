#include "daemon/bench/written_text.hpp"

#include <cstddef>
#include <cstdint>

namespace stillmark::bench {

namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD"; // U+FFFD

struct Character {
    std::uint32_t code = 0;
    std::size_t bytes = 0; ///< 0: what stands here is no UTF-8
};

/// The character at the begin of a text that is not empty (RFC 3629: shortest form, no surrogates, up to U+10FFFF).
Character first_of(std::string_view text) {
    const auto byte = [text](std::size_t i) { return static_cast<std::uint32_t>(static_cast<unsigned char>(text[i])); };
    const std::uint32_t lead = byte(0);
    if (lead < 0x80) return {lead, 1};
    const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
    if (lead < 0xC2 || lead > 0xF4 || text.size() < length) return {};
    constexpr std::uint32_t lead_bits[] = {0, 0, 0x1F, 0x0F, 0x07};
    constexpr std::uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    std::uint32_t code = lead & lead_bits[length];
    for (std::size_t i = 1; i < length; ++i) {
        if ((byte(i) & 0xC0) != 0x80) return {};
        code = code << 6 | (byte(i) & 0x3F);
    }
    if (code < least[length] || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF)) return {};
    return {code, length};
}

bool xml_allows(std::uint32_t code) {
    if (code < 0x20) return code == '\t' || code == '\n' || code == '\r';
    return code != 0xFFFE && code != 0xFFFF;
}

} // namespace

std::string readable_text(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        const Character one = first_of(text);
        const bool sound = one.bytes > 0 && xml_allows(one.code);
        const std::size_t taken = one.bytes > 0 ? one.bytes : 1;
        out += sound ? text.substr(0, taken) : replacement;
        text.remove_prefix(taken);
    }
    return out;
}

std::string csv_text(std::string_view text) {
    std::string out = readable_text(text);
    if (!out.empty() && std::string_view("=+-@\t\r\n").find(out.front()) != std::string_view::npos)
        out.insert(0, 1, '\'');
    return out;
}

std::string csv_line(const std::vector<std::string>& fields) {
    std::string line;
    for (std::size_t i = 0; i < fields.size(); ++i) {
        if (i > 0) line += ',';
        if (fields[i].find_first_of(",\"\r\n") == std::string::npos) {
            line += fields[i];
            continue;
        }
        line += '"';
        for (const char one : fields[i]) {
            if (one == '"') line += '"';
            line += one;
        }
        line += '"';
    }
    return line + "\r\n";
}

} // namespace stillmark::bench
