#pragma once

#include "daemon/gateway/http_message.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::gateway {

/// Whose pages may talk to this service. A browser carries requests of any page that it shows, and a name that a
/// stranger owns may be made to lead to this machine (DNS rebinding): only addresses written as numbers, `localhost`
/// and the names given here are this service, and what changes something comes from its own page or from no page.
struct SameSite {
    std::vector<std::string> names; ///< in small letters
    bool tls = false;

    /// Why the request is refused, or nothing. `changes`: it does something, or opens a live view.
    std::optional<HttpAnswer> objection_to(const HttpRequest& request, bool changes) const;
};

std::string in_small_letters(std::string_view text);

/// The host in a `Host` header, in small letters and without its port; nothing where it is malformed.
std::optional<std::string> host_in(std::string_view header);

} // namespace stillmark::gateway
