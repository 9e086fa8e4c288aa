#pragma once

#include "daemon/decider/decider.hpp"
#include "daemon/gateway/http_message.hpp"
#include "daemon/gateway/log_in.hpp"
#include "daemon/gateway/looks.hpp"

#include <nlohmann/json.hpp>

#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::gateway {

/// What the server keeps count of.
struct HttpCounts {
    std::size_t connections = 0;
    std::size_t live_views = 0;
    std::uint64_t accepted = 0;
    std::uint64_t refused_connections = 0;
    std::uint64_t requests = 0;
    std::uint64_t refused_requests = 0; ///< answered with a status of 400 or above
    std::uint64_t too_slow = 0;
    std::uint64_t frames_sent = 0;
    std::uint64_t frames_missed = 0;
    std::uint64_t slow_views_dropped = 0;
};

/// How routes reach the rest of the program.
struct HttpGround {
    /// Changes something: straight to the deciding thread, with the keys of the local socket.
    std::function<void(nlohmann::json request, std::function<void(nlohmann::json)> reply)> change;
    /// Asks something of the deciding thread, in turn with other questions.
    std::function<void(nlohmann::json request, std::function<void(const LookReply&)> reply)> look;
    /// Runs work beside everybody else and gives its answer; a refusal where too much waits there.
    std::function<void(std::function<HttpAnswer()> work, std::function<void(HttpAnswer)> give)> on_pool;
    /// Lets somebody look at the present state, on the deciding thread; must return at once.
    std::function<void(std::function<void(const decider::Decider&)> look)> on_deciding_thread;
    std::string journal_path;
    std::string records_folder;
    /// Who may do what; null where this bench is open to this machine.
    LogIn* log_in = nullptr;
    const HttpCounts* counts = nullptr;
};

/// Where a request leads. Pure but for what the ground does when an answer comes later.
HttpOutcome route(const HttpRequest& request, const HttpGround& ground);

/// Whether a request of this method changes something or opens a live view: those come from the service's own page
/// only.
bool wants_own_page(const HttpRequest& request);

struct RouteName {
    std::string method;
    std::string path; ///< with {names} where anything may stand
    std::string what; ///< what the log-in is asked: see `LogIn::objection_to`
};
/// Every route there is, for the description of the API to be held against.
std::vector<RouteName> route_list();

/// The answer that stands for a reply of the deciding thread; `key` is what a reply holds that is good.
HttpAnswer answer_of_reply(const nlohmann::json& reply, unsigned refused_status);

} // namespace stillmark::gateway
