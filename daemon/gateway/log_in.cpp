#include "daemon/gateway/log_in.hpp"

#include "daemon/gateway/requests.hpp"

#include <boost/asio/ip/address.hpp>
#include <boost/asio/ip/network_v6.hpp>
#include <fmt/format.h>

#include <algorithm>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

constexpr Micros look_period_us = 2'000'000;
/// A page of another host under the same domain may set cookies of our name beside ours; which is the right one is
/// tried.
constexpr std::size_t most_cookies = 4;

json person_json(const std::string& name, const people::Roles& roles) {
    return {{"name", name}, {"roles", people::words(roles)}};
}

json session_json(const std::optional<people::Person>& who) {
    return {{"login", "needed"}, {"user", who ? person_json(who->name, who->roles) : json(nullptr)}};
}

/// The body's texts under these keys, or all that is wrong with it. `more`: other keys that it may have.
std::optional<std::string> texts_of(const HttpRequest& request, json& body, std::vector<std::string> keys,
                                    const std::vector<std::string>& more = {}) {
    const auto parsed = parse_request(request.body);
    if (!parsed) return "the body is not a JSON object of at most 8 levels";
    body = *parsed;
    std::vector<std::string> wrong;
    for (const auto& key : keys) {
        const auto found = body.find(key);
        if (found == body.end())
            wrong.push_back(fmt::format("\"{}\" is missing; give a text", key));
        else if (!found->is_string())
            wrong.push_back(fmt::format("\"{}\" is not a text", key));
    }
    keys.insert(keys.end(), more.begin(), more.end());
    for (const auto& item : body.items())
        if (std::ranges::find(keys, item.key()) == keys.end())
            wrong.push_back(fmt::format("\"{}\": unknown key; known here: {}", item.key(), fmt::join(keys, ", ")));
    if (wrong.empty()) return std::nullopt;
    return fmt::format("{}", fmt::join(wrong, "; "));
}

std::string text(const json& body, const char* key) {
    return body.find(key)->get<std::string>();
}

/// The roles under "roles", or what is wrong with them.
std::optional<std::string> roles_of(const json& body, people::Roles& roles) {
    const auto list = body.find("roles");
    if (list == body.end() || !list->is_array() || list->empty())
        return "\"roles\" is a list of some of operator, reviewer and administrator";
    for (const auto& one : *list) {
        const auto role = one.is_string() ? people::role_of(one.get_ref<const std::string&>()) : std::nullopt;
        if (!role) return fmt::format("{} is no role; use operator, reviewer or administrator", json_text(one));
        roles.insert(*role);
    }
    return std::nullopt;
}

std::string words_of(const std::string& what) {
    return what == "look"    ? "look at this bench"
           : what == "users" ? "see or change the people"
                             : fmt::format("do \"{}\"", what);
}

/// What is told of a change of the people.
people::Reply change_told(const std::function<void(HttpAnswer)>& give) {
    return [give](const people::Answer& said) {
        give(said.kind == people::Answer::Kind::done ? json_answer({{"ok", true}}) : answer_of(said));
    };
}

} // namespace

std::string place_of(const std::string& address) {
    boost::system::error_code error;
    auto found = boost::asio::ip::make_address(address, error);
    if (error) return address;
    if (found.is_v6() && found.to_v6().is_v4_mapped())
        found = boost::asio::ip::make_address_v4(boost::asio::ip::v4_mapped, found.to_v6());
    if (found.is_v4()) return found.to_string();
    auto plain = found.to_v6();
    plain.scope_id(0);
    return boost::asio::ip::network_v6(plain, 64).canonical().to_string();
}

HttpAnswer answer_of(const people::Answer& said) {
    using Kind = people::Answer::Kind;
    switch (said.kind) {
    case Kind::wrong:
        return problem(401, "wrong_login", said.words);
    case Kind::wait: {
        auto answer = problem(429, "wait", said.words);
        answer.headers.emplace_back("Retry-After", std::to_string((said.wait_us + 999'999) / 1'000'000));
        return answer;
    }
    case Kind::busy: {
        auto answer = problem(503, "too_many", said.words);
        answer.headers.emplace_back("Retry-After", "2");
        return answer;
    }
    case Kind::bad_request:
        return problem(400, "bad_request", said.words);
    case Kind::refused:
        return problem(409, "refused", said.words);
    case Kind::done:
    case Kind::not_recorded:
        break;
    }
    return problem(503, "not_recorded", said.words);
}

HttpAnswer no_log_in() {
    return problem(404, "not_found",
                   "this bench knows no people and is open to this machine; --users names their file");
}

LogIn::LogIn(std::string file, people::Users users, people::Workers workers, Tell tell, unsigned port, bool tls)
    : cookie_name_(fmt::format("{}stillmark-{}", tls ? "__Host-" : "", port)), tls_(tls),
      reception_(std::move(file), std::move(users), std::move(workers), std::move(tell)) {}

std::vector<people::Sessions::Key> LogIn::keys_of(const HttpRequest& request) const {
    std::vector<people::Sessions::Key> keys;
    const std::string all = request.header("cookie");
    for (std::size_t from = 0; from < all.size() && keys.size() < most_cookies;) {
        const auto to = std::min(all.find(';', from), all.size());
        auto one = std::string_view(all).substr(from, to - from);
        from = to + 1;
        one.remove_prefix(std::min(one.find_first_not_of(' '), one.size()));
        if (!one.starts_with(cookie_name_) || one.substr(cookie_name_.size()).substr(0, 1) != "=") continue;
        keys.push_back(people::Sessions::key_of(one.substr(cookie_name_.size() + 1)));
    }
    return keys;
}

std::string LogIn::cookie(const std::string& token, std::int64_t age_s) const {
    return fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict; Max-Age={}{}", cookie_name_, token, age_s,
                       tls_ ? "; Secure" : "");
}

std::optional<people::Person> LogIn::who(const HttpRequest& request) const {
    for (const auto& key : keys_of(request)) {
        if (auto found = reception_.who(key, protocols::now_us())) return found;
    }
    return std::nullopt;
}

std::optional<HttpAnswer> LogIn::objection_to(const HttpRequest& request, const std::string& what) {
    if (what == "page" || what == "session") return std::nullopt;
    const auto asking = who(request);
    if (!asking) return problem(401, "login_needed", "log in first: nobody is logged in here, or the session is over");
    if (!people::may(asking->roles, what))
        return problem(
            403, "not_allowed",
            fmt::format("{} may not {}; that is for: {}", asking->name, words_of(what), people::roles_that_may(what)));
    if (request.method == "GET" || request.method == "HEAD") return std::nullopt;
    for (const auto& key : keys_of(request))
        reception_.used(key, protocols::now_us());
    return std::nullopt;
}

std::function<bool()> LogIn::goes_on(const HttpRequest& request) const {
    return [this, keys = keys_of(request)] {
        return std::ranges::any_of(keys, [this](const people::Sessions::Key& key) {
            return reception_.who(key, protocols::now_us()).has_value();
        });
    };
}

HttpOutcome LogIn::session(const HttpRequest& request) {
    return json_answer(session_json(who(request)));
}

HttpOutcome LogIn::log_in(const HttpRequest& request) {
    json body;
    if (const auto wrong = texts_of(request, body, {"name", "password"})) return problem(400, "bad_request", *wrong);
    return LaterAnswer([this, name = text(body, "name"), password = text(body, "password"),
                        from = place_of(request.from),
                        before = keys_of(request)](const std::function<void(HttpAnswer)>& give) {
        reception_.log_in(name, password, from, protocols::now_us(), [this, before, give](const people::Answer& said) {
            if (said.kind != people::Answer::Kind::done) return give(answer_of(said));
            // The cookie is written over: nobody could end that session any more.
            for (const auto& key : before)
                reception_.log_out(key);
            auto answer = json_answer(session_json(said.person));
            answer.headers.emplace_back("Set-Cookie", cookie(said.token, people::Sessions::longest_us / 1'000'000));
            give(std::move(answer));
        });
    });
}

HttpOutcome LogIn::log_out(const HttpRequest& request) {
    for (const auto& key : keys_of(request))
        reception_.log_out(key);
    auto answer = json_answer(session_json(std::nullopt));
    answer.headers.emplace_back("Set-Cookie", cookie("", 0));
    return answer;
}

HttpOutcome LogIn::users(const HttpRequest&) {
    json list = json::array();
    for (const auto& user : reception_.users().list)
        list.push_back(person_json(user.name, user.roles));
    return json_answer({{"users", list}});
}

HttpOutcome LogIn::add_user(const HttpRequest& request) {
    json body;
    people::Roles roles;
    auto wrong = texts_of(request, body, {"name", "password"}, {"roles"});
    if (!wrong) wrong = roles_of(body, roles);
    if (wrong) return problem(400, "bad_request", *wrong);
    return LaterAnswer([this, by = who(request).value_or(people::Person{}), name = text(body, "name"), roles,
                        password = text(body, "password"),
                        from = place_of(request.from)](const std::function<void(HttpAnswer)>& give) {
        reception_.add(by, name, roles, password, from, change_told(give));
    });
}

HttpOutcome LogIn::remove_user(const HttpRequest& request) {
    return LaterAnswer([this, by = who(request).value_or(people::Person{}), name = request.target.parts[2],
                        from = place_of(request.from)](const std::function<void(HttpAnswer)>& give) {
        reception_.remove(by, name, from, change_told(give));
    });
}

HttpOutcome LogIn::set_password(const HttpRequest& request) {
    json body;
    if (const auto wrong = texts_of(request, body, {"password"})) return problem(400, "bad_request", *wrong);
    return LaterAnswer([this, by = who(request).value_or(people::Person{}), name = request.target.parts[2],
                        password = text(body, "password"),
                        from = place_of(request.from)](const std::function<void(HttpAnswer)>& give) {
        reception_.set_password(by, name, password, from, change_told(give));
    });
}

void LogIn::check(Micros now_us) {
    if (now_us - looked_us_ < look_period_us) return;
    looked_us_ = now_us;
    reception_.look_at_file();
}

} // namespace stillmark::gateway
