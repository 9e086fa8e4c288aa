#pragma once

#include "daemon/gateway/http_message.hpp"

#include <span>
#include <string>
#include <string_view>

namespace stillmark::gateway {

/// One file that is embedded in the program: a part of the page, or the description of the API.
struct PageFile {
    std::string_view name;
    std::string_view bytes;
    std::string_view gzip; ///< the same, packed
};

/// What the build embedded, by name.
std::span<const PageFile> page_files();
const PageFile* find_page_file(std::string_view name);

/// The answer with this file, as the request takes it: packed or not, or only word that it is unchanged.
HttpAnswer page_answer(const PageFile& file, const HttpRequest& request);

} // namespace stillmark::gateway
