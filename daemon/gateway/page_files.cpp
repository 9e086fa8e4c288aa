#include "daemon/gateway/page_files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <openssl/evp.h>

namespace stillmark::gateway {

namespace {

std::string_view type_of(std::string_view name) {
    static const std::map<std::string_view, std::string_view> types = {{"html", "text/html; charset=utf-8"},
                                                                       {"css", "text/css; charset=utf-8"},
                                                                       {"js", "text/javascript; charset=utf-8"},
                                                                       {"json", "application/json"},
                                                                       {"svg", "image/svg+xml"},
                                                                       {"png", "image/png"},
                                                                       {"woff2", "font/woff2"},
                                                                       {"webmanifest", "application/manifest+json"}};
    const auto found = types.find(name.substr(name.rfind('.') + 1));
    return found == types.end() ? "application/octet-stream" : found->second;
}

/// A strong tag of the content: the first half of its SHA-256.
std::string tag_of(std::string_view bytes) {
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned length = 0;
    EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr);
    std::string tag;
    for (std::size_t i = 0; i < 16; ++i)
        tag += fmt::format("{:02x}", digest[i]);
    return tag;
}

/// The codings and tags in a list, without their parameters and the weak mark; what is refused by q=0 is left out.
bool lists(const std::string& header, std::string_view wanted) {
    for (std::size_t from = 0; from < header.size();) {
        const auto to = std::min(header.find(',', from), header.size());
        std::string_view item = std::string_view(header).substr(from, to - from);
        while (item.starts_with(' ') || item.starts_with('\t'))
            item.remove_prefix(1);
        const auto end = std::min(item.find(';'), item.size());
        const auto parameters = item.substr(end);
        auto word = item.substr(0, end);
        while (word.ends_with(' '))
            word.remove_suffix(1);
        if (word.starts_with("W/")) word.remove_prefix(2);
        const bool refused = parameters.find("q=0") != std::string_view::npos &&
                             parameters.find_first_of("123456789") == std::string_view::npos;
        if (word == wanted && !refused) return true;
        from = to + 1;
    }
    return false;
}

} // namespace

const PageFile* find_page_file(std::string_view name) {
    const auto files = page_files();
    const auto found = std::ranges::find(files, name, &PageFile::name);
    return found == files.end() ? nullptr : &*found;
}

HttpAnswer page_answer(const PageFile& file, const HttpRequest& request) {
    static const std::map<std::string_view, std::string> tags = [] {
        std::map<std::string_view, std::string> made;
        for (const auto& one : page_files())
            made[one.name] = tag_of(one.bytes);
        return made;
    }();
    HttpAnswer answer;
    answer.type = type_of(file.name);
    const bool packed = file.gzip.size() < file.bytes.size() && lists(request.header("accept-encoding"), "gzip");
    // The packed bytes are other bytes, and a strong tag stands for bytes.
    const std::string tag = fmt::format("\"{}{}\"", tags.at(file.name), packed ? "-gzip" : "");
    answer.headers = {{"ETag", tag}, {"Vary", "Accept-Encoding"}, {"Cache-Control", "no-cache"}};
    if (lists(request.header("if-none-match"), tag)) {
        answer.status = 304;
        return answer;
    }
    if (packed) answer.headers.emplace_back("Content-Encoding", "gzip");
    answer.fixed = packed ? file.gzip : file.bytes;
    return answer;
}

} // namespace stillmark::gateway
