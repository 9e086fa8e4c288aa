#pragma once

#include "daemon/decider/decider.hpp"

#include <nlohmann/json.hpp>

#include <functional>

namespace stillmark::gateway {

/// Answers one request of a client, as DEVELOPERS.md "The local socket" words them; on the deciding thread. The reply
/// comes after what it tells of is on disk. `subscribe` is the connection's own affair and is not known here.
void answer(decider::Decider& decider, const nlohmann::json& request, const std::function<void(nlohmann::json)>& reply);

/// The reply to something that is no request.
nlohmann::json malformed(const nlohmann::json& id, const std::string& why);

} // namespace stillmark::gateway
