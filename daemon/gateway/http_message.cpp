#include "daemon/gateway/http_message.hpp"

#include <algorithm>
#include <array>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

constexpr std::size_t longest_target = 2048;
constexpr std::size_t most_parts = 8;
constexpr std::size_t most_keys = 16;

std::optional<unsigned> digit_of(char c) {
    if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
    if (c >= 'a' && c <= 'f') return static_cast<unsigned>(c - 'a' + 10);
    if (c >= 'A' && c <= 'F') return static_cast<unsigned>(c - 'A' + 10);
    return std::nullopt;
}

/// What %XX stands for; a plus is a space in a query only.
std::optional<std::string> decoded(std::string_view text, bool in_query) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '+' && in_query) {
            out += ' ';
        } else if (text[i] == '%') {
            if (i + 2 >= text.size()) return std::nullopt;
            const auto high = digit_of(text[i + 1]), low = digit_of(text[i + 2]);
            if (!high || !low) return std::nullopt;
            out += static_cast<char>(*high * 16 + *low);
            i += 2;
        } else {
            out += text[i];
        }
    }
    return is_plain_text(out) ? std::optional(out) : std::nullopt;
}

std::vector<std::string_view> split(std::string_view text, char at) {
    std::vector<std::string_view> pieces;
    for (std::size_t from = 0; from <= text.size();) {
        const auto to = std::min(text.find(at, from), text.size());
        pieces.push_back(text.substr(from, to - from));
        from = to + 1;
    }
    return pieces;
}

} // namespace

bool is_plain_text(std::string_view bytes) {
    for (std::size_t i = 0; i < bytes.size();) {
        const auto first = static_cast<unsigned char>(bytes[i]);
        if (first < 0x20 || first == 0x7f) return false;
        const std::size_t more = first < 0x80 ? 0 : first < 0xc2 ? 9 : first < 0xe0 ? 1 : first < 0xf0 ? 2 : 3;
        if (first > 0xf4 || more == 9 || i + more >= bytes.size()) return false;
        unsigned point = more == 0 ? first : more == 1 ? first & 0x1fU : more == 2 ? first & 0x0fU : first & 0x07U;
        for (std::size_t k = 1; k <= more; ++k) {
            const auto next = static_cast<unsigned char>(bytes[i + k]);
            if ((next & 0xc0U) != 0x80) return false;
            point = point << 6U | (next & 0x3fU);
        }
        // What is written longer than it need be could hide what it is; surrogates are no characters.
        constexpr std::array<unsigned, 4> least = {0, 0x80, 0x800, 0x10000};
        if (point < least[more] || point > 0x10ffff || (point >= 0xd800 && point <= 0xdfff)) return false;
        if (point >= 0x80 && point < 0xa0) return false;
        i += more + 1;
    }
    return true;
}

std::optional<HttpTarget> read_target(std::string_view target) {
    if (target.size() > longest_target || !target.starts_with('/')) return std::nullopt;
    if (target.find_first_of("\\#") != std::string_view::npos) return std::nullopt;
    HttpTarget read;
    const auto question = std::min(target.find('?'), target.size());
    const auto path = target.substr(1, question - 1);
    if (!path.empty())
        for (const auto piece : split(path, '/')) {
            const auto part = decoded(piece, false);
            if (!part || part->empty() || *part == "." || *part == ".." || read.parts.size() == most_parts)
                return std::nullopt;
            if (part->find_first_of("/\\") != std::string::npos) return std::nullopt;
            read.parts.push_back(*part);
        }
    if (question + 1 >= target.size()) return read;
    for (const auto pair : split(target.substr(question + 1), '&')) {
        const auto equals = std::min(pair.find('='), pair.size());
        const auto key = decoded(pair.substr(0, equals), true);
        const auto value = decoded(equals < pair.size() ? pair.substr(equals + 1) : std::string_view(), true);
        if (!key || key->empty() || !value || read.query.size() == most_keys) return std::nullopt;
        if (!read.query.emplace(*key, *value).second) return std::nullopt;
    }
    return read;
}

std::string HttpRequest::header(const std::string& name) const {
    const auto found = headers.find(name);
    return found == headers.end() ? std::string() : found->second;
}

std::string_view reason_of(unsigned status) {
    switch (status) {
    case 200:
        return "OK";
    case 204:
        return "No Content";
    case 304:
        return "Not Modified";
    case 400:
        return "Bad Request";
    case 401:
        return "Unauthorized";
    case 403:
        return "Forbidden";
    case 404:
        return "Not Found";
    case 405:
        return "Method Not Allowed";
    case 408:
        return "Request Timeout";
    case 409:
        return "Conflict";
    case 413:
        return "Content Too Large";
    case 415:
        return "Unsupported Media Type";
    case 421:
        return "Misdirected Request";
    case 426:
        return "Upgrade Required";
    case 429:
        return "Too Many Requests";
    case 431:
        return "Request Header Fields Too Large";
    case 500:
        return "Internal Server Error";
    case 503:
        return "Service Unavailable";
    case 504:
        return "Gateway Timeout";
    default:
        return "Unknown";
    }
}

std::string json_text(const json& value) {
    return value.dump(-1, ' ', false, json::error_handler_t::replace);
}

HttpAnswer json_answer(const json& value) {
    HttpAnswer answer;
    answer.body = json_text(value) + "\n";
    return answer;
}

HttpAnswer problem(unsigned status, std::string_view code, std::string detail, const nlohmann::json& members) {
    nlohmann::json body = {{"type", "about:blank"},
                           {"title", reason_of(status)},
                           {"status", status},
                           {"detail", std::move(detail)},
                           {"code", code}};
    body.update(members);
    HttpAnswer answer = json_answer(body);
    answer.status = status;
    answer.type = "application/problem+json";
    return answer;
}

} // namespace stillmark::gateway
