#include "daemon/gateway/http_routes.hpp"

#include "daemon/gateway/journal_questions.hpp"
#include "daemon/gateway/metrics.hpp"
#include "daemon/gateway/page_files.hpp"
#include "daemon/gateway/requests.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

using Parts = std::vector<std::string>;

struct Route {
    const char* method;
    const char* path;
    const char* what;
    HttpOutcome (*go)(const HttpRequest&, const HttpGround&);
};

HttpAnswer no_such_path() {
    return problem(404, "not_found", "there is nothing at this path; GET /api/openapi.json lists what there is");
}

/// A question whose reply becomes the answer as it stands.
HttpOutcome look(
    const HttpGround& ground, json request,
    std::function<HttpAnswer(const json&)> answer = [](const json& reply) { return answer_of_reply(reply, 404); }) {
    return LaterAnswer([&ground, request = std::move(request),
                        answer = std::move(answer)](const std::function<void(HttpAnswer)>& give) {
        ground.look(request, [give, answer](const LookReply& reply) {
            give(reply ? answer(*reply)
                       : problem(503, "too_many", "too many questions wait for the service; ask again in a second"));
        });
    });
}

HttpOutcome page(const HttpRequest& request, std::string_view name) {
    const auto* file = find_page_file(name);
    return file == nullptr ? no_such_path() : page_answer(*file, request);
}

HttpOutcome page_part(const HttpRequest& request, const HttpGround&) {
    return page(request, request.target.parts[1]);
}

HttpOutcome live(const HttpRequest& request, const HttpGround& ground) {
    LiveView view;
    if (ground.log_in != nullptr) view.goes_on = ground.log_in->goes_on(request);
    const auto found = request.target.query.find("hz");
    if (found == request.target.query.end()) return view;
    int hz = 0;
    const auto& text = found->second;
    const auto end = std::from_chars(text.data(), text.data() + text.size(), hz);
    if (end.ec != std::errc() || end.ptr != text.data() + text.size() || hz < 1 || hz > 20)
        return problem(400, "bad_request", "\"hz\" is a whole number from 1 to 20");
    view.at_most_hz = hz;
    return view;
}

/// A command of the local socket, with its keys in the body.
HttpOutcome do_what(const HttpRequest& request, const HttpGround& ground) {
    const auto& what = request.target.parts[2];
    if (std::ranges::find(command_names(), what) == command_names().end())
        return problem(404, "not_found",
                       fmt::format("\"{}\" is nothing that can be done; GET /api/openapi.json lists what can", what));
    auto keys = parse_request(request.body);
    if (!keys) return problem(400, "bad_request", "the body is not a JSON object of at most 8 levels");
    (*keys)["do"] = what;
    keys->erase("id");
    keys->erase("logged_in");
    // Nobody signs with another's name.
    if (ground.log_in != nullptr) {
        (*keys)["by"] = ground.log_in->who(request).value_or(people::Person{}).name;
        (*keys)["logged_in"] = true;
    }
    return LaterAnswer([&ground, keys = std::move(*keys)](const std::function<void(HttpAnswer)>& give) {
        ground.change(keys, [give](const json& reply) { give(answer_of_reply(reply, 409)); });
    });
}

HttpOutcome session(const HttpRequest& request, const HttpGround& ground) {
    if (ground.log_in != nullptr) return ground.log_in->session(request);
    return json_answer({{"login", "not needed"}, {"user", nullptr}});
}

/// What the log-in does with a request, where there is one.
template <auto Does>
HttpOutcome people_of_bench(const HttpRequest& request, const HttpGround& ground) {
    if (ground.log_in == nullptr) return no_log_in();
    return (ground.log_in->*Does)(request);
}

HttpOutcome metrics(const HttpRequest&, const HttpGround& ground) {
    return look(ground, {{"do", "status"}}, [&ground](const json& reply) {
        if (!reply.value("ok", false)) return answer_of_reply(reply, 503);
        HttpAnswer answer;
        answer.type = "text/plain; version=0.0.4; charset=utf-8";
        answer.body = metrics_text(reply["frame"], *ground.counts);
        return answer;
    });
}

const std::vector<Route>& routes() {
    static const std::vector<Route> table = {
        {"GET", "/", "page",
         [](const HttpRequest& request, const HttpGround&) -> HttpOutcome { return page(request, "index.html"); }},
        {"GET", "/page/{name}", "page", page_part},
        {"GET", "/api/openapi.json", "page",
         [](const HttpRequest& request, const HttpGround&) -> HttpOutcome { return page(request, "openapi.json"); }},
        {"GET", "/api/session", "session", session},
        {"POST", "/api/session", "session", people_of_bench<&LogIn::log_in>},
        {"DELETE", "/api/session", "session", people_of_bench<&LogIn::log_out>},
        {"GET", "/api/users", "users", people_of_bench<&LogIn::users>},
        {"POST", "/api/users", "users", people_of_bench<&LogIn::add_user>},
        {"DELETE", "/api/users/{name}", "users", people_of_bench<&LogIn::remove_user>},
        {"POST", "/api/users/{name}/password", "users", people_of_bench<&LogIn::set_password>},
        {"GET", "/api/frame", "look",
         [](const HttpRequest&, const HttpGround& ground) {
             return look(ground, {{"do", "status"}});
         }},
        {"GET", "/api/live", "look", live},
        {"GET", "/api/runs", "look",
         [](const HttpRequest&, const HttpGround& ground) {
             return look(ground, {{"do", "run_list"}});
         }},
        {"GET", "/api/runs/{run}", "look",
         [](const HttpRequest& request, const HttpGround& ground) {
             return look(ground, {{"do", "results"}, {"run", request.target.parts[2]}});
         }},
        {"GET", "/api/runs/{run}/budget", "look", ask_for_budget},
        {"GET", "/api/bench", "look", ask_for_bench},
        {"GET", "/api/events", "look", ask_for_events},
        {"GET", "/api/readings", "look", ask_for_readings},
        {"GET", "/api/balance-health", "look",
         [](const HttpRequest&, const HttpGround& ground) {
             return look(ground, {{"do", "health_list"}});
         }},
        {"GET", "/api/certificates", "look",
         [](const HttpRequest&, const HttpGround& ground) {
             return look(ground, {{"do", "certificate_list"}});
         }},
        {"GET", "/api/certificates/{certificate}/{document}", "look", ask_for_document},
        {"GET", "/metrics", "look", metrics},
        {"POST", "/api/do/{what}", "do", do_what},
    };
    return table;
}

bool matches(std::string_view path, const Parts& parts) {
    std::size_t part = 0;
    for (std::size_t from = 1; from < path.size(); ++part) {
        const auto to = std::min(path.find('/', from), path.size());
        const auto wanted = path.substr(from, to - from);
        if (part == parts.size() || (!wanted.starts_with('{') && wanted != parts[part])) return false;
        from = to + 1;
    }
    return part == parts.size();
}

} // namespace

HttpAnswer answer_of_reply(const json& reply, unsigned refused_status) {
    if (reply.value("ok", false)) {
        json good = reply;
        good.erase("id");
        return json_answer(good);
    }
    const auto code = reply.value("code", "not_recorded");
    const bool refused = code == "refused" || code == "contradicted";
    const unsigned status = code == "bad_request" ? 400 : refused ? refused_status : 503;
    auto members = json::object();
    if (reply.contains("contradicted")) members["contradicted"] = reply["contradicted"];
    return problem(status, code, reply.value("error", "the service gave no reason"), members);
}

bool wants_own_page(const HttpRequest& request) {
    return (request.method != "GET" && request.method != "HEAD") || request.target.parts == Parts{"api", "live"};
}

HttpOutcome route(const HttpRequest& request, const HttpGround& ground) {
    const auto method = request.method == "HEAD" ? "GET" : request.method;
    std::string others;
    for (const auto& one : routes()) {
        if (!matches(one.path, request.target.parts)) continue;
        if (method != one.method) {
            others += (others.empty() ? "" : ", ") + std::string(one.method);
            continue;
        }
        if (method == "POST") {
            const auto type = request.header("content-type");
            if (type.substr(0, type.find(';')) != "application/json")
                return problem(415, "bad_request", "the body is to be JSON, with Content-Type: application/json");
        }
        const std::string what = one.what == std::string_view("do") ? request.target.parts[2] : one.what;
        if (ground.log_in != nullptr) {
            if (auto refused = ground.log_in->objection_to(request, what)) return *refused;
        }
        return one.go(request, ground);
    }
    if (others.empty()) return no_such_path();
    auto refused = problem(405, "wrong_method", fmt::format("this path takes {}, not {}", others, request.method));
    refused.headers.emplace_back("Allow", others);
    return refused;
}

std::vector<RouteName> route_list() {
    std::vector<RouteName> list;
    for (const auto& one : routes())
        list.push_back({one.method, one.path, one.what});
    return list;
}

} // namespace stillmark::gateway
