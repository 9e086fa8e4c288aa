#pragma once

#include "daemon/decider/decider.hpp"

#include <nlohmann/json.hpp>

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::gateway {

/// Answers one request of a client, as DEVELOPERS.md "The local socket" words them; on the deciding thread. The reply
/// comes after what it tells of is on disk. `subscribe` is the connection's own affair and is not known here.
void answer(decider::Decider& decider, const nlohmann::json& request, const std::function<void(nlohmann::json)>& reply);

/// The JSON object in a text, or nothing where it is none or nested deeper than any request: what is nested without end
/// would be copied and written by calls nested as deep.
std::optional<nlohmann::json> parse_request(const std::string& text);

/// The commands that change something, as `do` names them.
const std::vector<std::string>& command_names();

/// What clients of the local socket may ask. Nobody there has given a password, so whatever says so is taken off; where
/// the service has users, what needs a reviewer or an administrator is refused.
std::function<void(nlohmann::json, std::function<void(nlohmann::json)>)>
guarded(std::function<void(nlohmann::json, std::function<void(nlohmann::json)>)> ask, bool has_users);

/// The reply to something that is no request.
nlohmann::json malformed(const nlohmann::json& id, const std::string& why);

} // namespace stillmark::gateway
