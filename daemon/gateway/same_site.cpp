#include "daemon/gateway/same_site.hpp"

#include <boost/asio/ip/address.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cctype>

namespace stillmark::gateway {

namespace {

bool is_address(const std::string& host) {
    boost::system::error_code error;
    boost::asio::ip::make_address(host, error);
    return !error;
}

} // namespace

std::string in_small_letters(std::string_view text) {
    std::string small(text);
    std::ranges::transform(small, small.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return small;
}

std::optional<std::string> host_in(std::string_view header) {
    std::string_view host = header, port;
    if (header.starts_with('[')) {
        const auto end = header.find(']');
        if (end == std::string_view::npos) return std::nullopt;
        host = header.substr(1, end - 1);
        port = header.substr(end + 1);
    } else if (const auto colon = header.find(':'); colon != std::string_view::npos) {
        host = header.substr(0, colon);
        port = header.substr(colon);
    }
    if (!port.empty() && (port.front() != ':' || port.size() > 6 || port.size() < 2 ||
                          !std::ranges::all_of(port.substr(1), [](unsigned char c) { return std::isdigit(c) != 0; })))
        return std::nullopt;
    const bool fits = std::ranges::all_of(
        host, [](unsigned char c) { return std::isalnum(c) != 0 || c == '.' || c == '-' || c == ':'; });
    if (host.empty() || host.size() > 253 || !fits) return std::nullopt;
    return in_small_letters(host);
}

std::optional<HttpAnswer> SameSite::objection_to(const HttpRequest& request, bool changes) const {
    const auto header = request.header("host");
    const auto host = host_in(header);
    if (!host) return problem(400, "bad_request", "the Host header is missing or malformed");
    if (*host != "localhost" && !is_address(*host) && std::ranges::find(names, *host) == names.end())
        return problem(
            421, "wrong_host",
            fmt::format("\"{}\" is no name of this service; use its address, or start it with --http-name {}", *host,
                        *host));
    const auto site = request.header("sec-fetch-site");
    if (changes && !site.empty() && site != "same-origin" && site != "none")
        return problem(403, "wrong_origin", "this request comes from another page; use the page of this service");
    const auto origin = request.header("origin");
    if (!changes || request.headers.count("origin") == 0) return std::nullopt;
    if (in_small_letters(origin) != (tls ? "https://" : "http://") + in_small_letters(header))
        return problem(403, "wrong_origin",
                       "this request comes from a page of another origin; use the page of this service");
    return std::nullopt;
}

} // namespace stillmark::gateway
