#include "daemon/gateway/http_routes.hpp"
#include "daemon/gateway/log_in.hpp"
#include "daemon/gateway/requests.hpp"
#include "people/people_of_test.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>

namespace stillmark::gateway::testing {
namespace {

using nlohmann::json;
using people::Role;
using people::testing::quick_hash;

HttpRequest request_to(const char* method, const char* path, const std::string& cookie = "",
                       const json& body = nullptr) {
    HttpRequest request;
    request.method = method;
    request.target = *read_target(path);
    request.from = "192.0.2.7";
    if (!cookie.empty()) request.headers["cookie"] = cookie;
    if (!body.is_null()) {
        request.headers["content-type"] = "application/json";
        request.body = body.dump();
    }
    return request;
}

/// The routes with a log-in whose pool is the test itself.
struct Console {
    explicit Console(bool tls = false) {
        people::Users users;
        users.list = {{"Ada", {Role::administrator}, quick_hash("wet chalk")},
                      {"Ben", {Role::bench_operator}, quick_hash("dry chalk")},
                      {"Eve", {Role::reviewer}, quick_hash("old pencil")}};
        people::testing::write_file(file, people::users_text(users));
        const auto at_once = [](const std::function<void()>& work) { work(); };
        log_in = std::make_unique<LogIn>(
            file, users, people::Workers{at_once, at_once}, [](bool, const std::string&) {}, 8788, tls);
        ground.change = [this](const json& request, const std::function<void(json)>& reply) {
            changes.push_back(request);
            reply({{"ok", true}});
        };
        ground.look = [](const json&, const std::function<void(const LookReply&)>& reply) {
            reply(std::make_shared<const json>(json{{"ok", true}, {"frame", nullptr}}));
        };
        ground.log_in = log_in.get();
    }

    HttpAnswer answer(const HttpRequest& request) {
        auto outcome = route(request, ground);
        if (auto* at_once = std::get_if<HttpAnswer>(&outcome)) return *at_once;
        HttpAnswer given;
        given.status = 101;
        if (auto* later = std::get_if<LaterAnswer>(&outcome))
            (*later)([&given](HttpAnswer one) { given = std::move(one); });
        return given;
    }
    unsigned status(const HttpRequest& request) { return answer(request).status; }
    /// The cookie that a log-in sets, as a browser sends it back.
    std::string cookie(const std::string& name, const std::string& password) {
        const auto set = header(
            answer(request_to("POST", "/api/session", "", {{"name", name}, {"password", password}})), "Set-Cookie");
        return set.substr(0, set.find(';'));
    }
    static std::string header(const HttpAnswer& answer, const std::string& name) {
        const auto found = std::ranges::find(answer.headers, name, &std::pair<std::string, std::string>::first);
        return found == answer.headers.end() ? "" : found->second;
    }

    people::testing::Folder folder;
    std::string file = folder / "users.json";
    std::unique_ptr<LogIn> log_in;
    std::vector<json> changes;
    HttpGround ground;
};

TEST(LogIn, GivesACookieThatOpensTheBench) {
    Console console;
    EXPECT_EQ(json::parse(console.answer(request_to("GET", "/api/session")).body),
              json({{"login", "needed"}, {"user", nullptr}}));
    EXPECT_EQ(console.status(request_to("GET", "/api/frame")), 401U);
    EXPECT_EQ(console.status(request_to("GET", "/api/live")), 401U);
    EXPECT_EQ(console.status(request_to("GET", "/metrics")), 401U);
    EXPECT_EQ(console.status(request_to("GET", "/api/openapi.json")), 200U)
        << "the description tells nothing of a bench";
    const auto answer =
        console.answer(request_to("POST", "/api/session", "", {{"name", "Ben"}, {"password", "dry chalk"}}));
    EXPECT_EQ(answer.status, 200U);
    const json expected = {{"login", "needed"}, {"user", {{"name", "Ben"}, {"roles", {"operator"}}}}};
    EXPECT_EQ(json::parse(answer.body), expected);
    const auto set = Console::header(answer, "Set-Cookie");
    EXPECT_TRUE(set.starts_with("stillmark-8788=")) << set;
    EXPECT_TRUE(set.ends_with("; Path=/; HttpOnly; SameSite=Strict; Max-Age=86400")) << set;
    const auto cookie = set.substr(0, set.find(';'));
    EXPECT_EQ(json::parse(console.answer(request_to("GET", "/api/session", cookie)).body), expected);
    EXPECT_EQ(console.status(request_to("GET", "/api/frame", cookie)), 200U);
    EXPECT_EQ(console.status(request_to("GET", "/api/live", cookie)), 101U);
}

// RFC 6265bis: the prefix makes a browser take the cookie over TLS only, from this host only.
TEST(LogIn, UnderTlsTheCookieIsSecure) {
    Console console(true);
    const auto set = Console::header(
        console.answer(request_to("POST", "/api/session", "", {{"name", "Ben"}, {"password", "dry chalk"}})),
        "Set-Cookie");
    EXPECT_TRUE(set.starts_with("__Host-stillmark-8788=")) << set;
    EXPECT_TRUE(set.ends_with("; Secure")) << set;
    EXPECT_EQ(console.status(request_to("GET", "/api/frame", set.substr(0, set.find(';')))), 200U);
}

TEST(LogIn, OnlyTheRightCookieOpens) {
    Console console;
    const auto cookie = console.cookie("Ben", "dry chalk");
    const auto token = cookie.substr(cookie.find('=') + 1);
    for (const std::string& good : {"a=b; " + cookie + "; c=d", cookie + ";", "stillmark-8788=; " + cookie,
                                    "stillmark-8788=planted; stillmark-8788=; " + cookie})
        EXPECT_EQ(console.status(request_to("GET", "/api/frame", good)), 200U) << good;
    for (const std::string& bad :
         {"stillmark-8789=" + token, "xstillmark-8788=" + token, "stillmark-87880=" + token, "stillmark-8788" + token,
          token, cookie + "0", cookie.substr(0, cookie.size() - 1), std::string("stillmark-8788="),
          std::string(";;=;= ;"), "stillmark-8788=a; stillmark-8788=b; stillmark-8788=c; stillmark-8788=d; " + cookie})
        EXPECT_EQ(console.status(request_to("GET", "/api/frame", bad)), 401U) << bad;
}

TEST(LogIn, WrongOnesAreToldSoAndSlowedDown) {
    Console console;
    const auto said = [&console](const json& body) {
        return console.answer(request_to("POST", "/api/session", "", body));
    };
    for (const json& body :
         {json::object(), json({{"name", "Ben"}}), json({{"name", 5}, {"password", "dry chalk"}}),
          json({{"name", "Ben"}, {"password", nullptr}}), json({{"name", ""}, {"password", "dry chalk"}})})
        EXPECT_EQ(said(body).status, 400U) << body;
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(said({{"name", "Ben"}, {"password", "wet chalk"}}).status, 401U);
    const auto wait = said({{"name", "Ben"}, {"password", "dry chalk"}});
    EXPECT_EQ(wait.status, 429U);
    EXPECT_EQ(json::parse(wait.body)["code"], "wait");
    EXPECT_EQ(Console::header(wait, "Retry-After"), "1");
    auto elsewhere = request_to("POST", "/api/session", "", {{"name", "Ben"}, {"password", "dry chalk"}});
    elsewhere.from = "192.0.2.8";
    EXPECT_EQ(console.status(elsewhere), 200U);
}

TEST(LogIn, LogOutEndsTheSession) {
    Console console;
    const auto cookie = console.cookie("Ben", "dry chalk");
    const auto goes_on = console.log_in->goes_on(request_to("GET", "/api/live", cookie));
    EXPECT_TRUE(goes_on());
    const auto answer = console.answer(request_to("DELETE", "/api/session", cookie));
    EXPECT_EQ(json::parse(answer.body)["user"], nullptr);
    EXPECT_NE(Console::header(answer, "Set-Cookie").find("Max-Age=0"), std::string::npos);
    EXPECT_EQ(console.status(request_to("GET", "/api/frame", cookie)), 401U);
    EXPECT_FALSE(goes_on()) << "a live view ends with it";
    EXPECT_EQ(console.status(request_to("DELETE", "/api/session")), 200U) << "who is logged out may say so again";
}

TEST(LogIn, AnotherLogInEndsTheOneBefore) {
    Console console;
    const auto cookie = console.cookie("Ben", "dry chalk");
    EXPECT_EQ(console.status(request_to("POST", "/api/session", cookie, {{"name", "Ada"}, {"password", "wet chalk"}})),
              200U);
    EXPECT_EQ(console.status(request_to("GET", "/api/frame", cookie)), 401U);
}

TEST(LogIn, APressIsSignedByWhoIsLoggedIn) {
    Console console;
    const auto cookie = console.cookie("Ben", "dry chalk");
    EXPECT_EQ(console.status(request_to("POST", "/api/do/lost", cookie, {{"pressed_us", 5}, {"by", "Ada"}})), 200U);
    ASSERT_EQ(console.changes.size(), 1U);
    EXPECT_EQ(console.changes[0], json({{"do", "lost"}, {"pressed_us", 5}, {"by", "Ben"}, {"logged_in", true}}));
}

TEST(LogIn, AReviewerDoesNotConfirmAndAnOperatorAddsNobody) {
    Console console;
    const auto reviewer = console.cookie("Eve", "old pencil");
    const auto refused = console.answer(request_to("POST", "/api/do/confirm", reviewer, {{"range", "low"}}));
    EXPECT_EQ(refused.status, 403U);
    EXPECT_EQ(json::parse(refused.body)["detail"],
              "Eve may not do \"confirm\"; that is for: operator or administrator");
    EXPECT_EQ(console.status(request_to("GET", "/api/runs", reviewer)), 200U);
    EXPECT_EQ(console.status(request_to("POST", "/api/do/void", reviewer, {{"mark", 5}})), 200U);
    EXPECT_EQ(console.changes.size(), 1U);
    const auto at_the_bench = console.cookie("Ben", "dry chalk");
    for (const auto& request :
         {request_to("GET", "/api/users", at_the_bench),
          request_to("POST", "/api/users", at_the_bench,
                     {{"name", "Mallory"}, {"password", "sharp pencil"}, {"roles", {"administrator"}}}),
          request_to("DELETE", "/api/users/Ada", at_the_bench),
          request_to("POST", "/api/users/Ada/password", at_the_bench, {{"password", "sharp pencil"}})})
        EXPECT_EQ(console.status(request), 403U);
    EXPECT_EQ(people::load_users(console.file)->list.size(), 3U);
}

TEST(LogIn, NobodyWhoIsNotLoggedInDoesAnything) {
    Console console;
    for (const auto& name : command_names())
        EXPECT_EQ(console.status(request_to("POST", ("/api/do/" + name).c_str(), "", json::object())), 401U) << name;
    for (const auto& one : route_list()) {
        if (one.what == "page" || one.what == "session") continue;
        auto path = one.path;
        for (auto at = path.find('{'); at != std::string::npos; at = path.find('{'))
            path.replace(at, path.find('}') - at + 1, "confirm");
        EXPECT_EQ(console.status(request_to(one.method.c_str(), path.c_str(), "", json::object())), 401U) << path;
    }
    EXPECT_TRUE(console.changes.empty());
}

TEST(LogIn, EveryCommandStandsInTheTableOfRoles) {
    for (const auto& name : command_names())
        EXPECT_TRUE(people::may({Role::administrator, Role::reviewer}, name)) << name;
    for (const auto& one : route_list()) {
        if (one.what == "page" || one.what == "session" || one.what == "do") continue;
        EXPECT_TRUE(people::may({Role::administrator}, one.what)) << one.path;
    }
}

TEST(LogIn, AnAdministratorLooksAfterThePeople) {
    Console console;
    const auto cookie = console.cookie("Ada", "wet chalk");
    const auto users = json::parse(console.answer(request_to("GET", "/api/users", cookie)).body)["users"];
    ASSERT_EQ(users.size(), 3U);
    EXPECT_EQ(users[1], json({{"name", "Ben"}, {"roles", {"operator"}}})) << "and no hash";
    const json zoe = {{"name", "Zoe"}, {"password", "sharp pencil"}, {"roles", {"operator", "reviewer"}}};
    const auto mistyped = console.answer(request_to(
        "POST", "/api/users", cookie, {{"name", "Zoe"}, {"password", "sharp pencil"}, {"rolls", {"operator"}}}));
    EXPECT_EQ(mistyped.status, 400U);
    EXPECT_NE(mistyped.body.find("rolls"), std::string::npos) << mistyped.body;
    EXPECT_EQ(console.status(request_to("POST", "/api/users", cookie, zoe)), 200U);
    EXPECT_EQ(console.status(request_to("POST", "/api/users", cookie, zoe)), 409U);
    const auto hers = console.cookie("Zoe", "sharp pencil");
    EXPECT_EQ(console.status(request_to("GET", "/api/frame", hers)), 200U);
    EXPECT_EQ(console.status(request_to("POST", "/api/users/Zoe/password", cookie, {{"password", "blunt pencil"}})),
              200U);
    EXPECT_EQ(console.status(request_to("GET", "/api/frame", hers)), 401U);
    EXPECT_FALSE(console.cookie("Zoe", "blunt pencil").empty());
    EXPECT_EQ(console.status(request_to("DELETE", "/api/users/Zoe", cookie)), 200U);
    EXPECT_TRUE(console.cookie("Zoe", "blunt pencil").empty());
    EXPECT_EQ(console.status(request_to("DELETE", "/api/users/Ada", cookie)), 409U) << "the last administrator";
    for (const json& body : {json({{"name", "Zoe"}, {"password", "short"}, {"roles", {"operator"}}}),
                             json({{"name", "Zoe"}, {"password", "sharp pencil"}, {"roles", json::array()}}),
                             json({{"name", "Zoe"}, {"password", "sharp pencil"}, {"roles", {"boss"}}}),
                             json({{"name", "Zoe"}, {"password", "sharp pencil"}, {"roles", {5}}}),
                             json({{"name", "Zoe"}, {"password", "sharp pencil"}})})
        EXPECT_EQ(console.status(request_to("POST", "/api/users", cookie, body)), 400U) << body;
    EXPECT_EQ(people::load_users(console.file)->list.size(), 3U);
}

TEST(LogIn, WithoutUsersTheBenchIsOpenToThisMachine) {
    Console console;
    console.ground.log_in = nullptr;
    EXPECT_EQ(json::parse(console.answer(request_to("GET", "/api/session")).body),
              json({{"login", "not needed"}, {"user", nullptr}}));
    EXPECT_EQ(console.status(request_to("GET", "/api/frame")), 200U);
    EXPECT_EQ(console.status(request_to("GET", "/api/users")), 404U);
    EXPECT_EQ(console.status(request_to("POST", "/api/session", "", {{"name", "Ben"}, {"password", "dry chalk"}})),
              404U);
    EXPECT_EQ(console.status(request_to("POST", "/api/do/lost", "", {{"by", "Ben"}})), 200U);
    EXPECT_EQ(console.changes[0]["by"], "Ben");
}

TEST(LogIn, AMachineIsOnePlaceWhateverAddressItTakes) {
    EXPECT_EQ(place_of("192.0.2.7"), "192.0.2.7");
    EXPECT_EQ(place_of("::ffff:192.0.2.7"), "192.0.2.7");
    EXPECT_EQ(place_of("2001:db8:1:2:aaaa::1"), "2001:db8:1:2::/64");
    EXPECT_EQ(place_of("2001:db8:1:2:bbbb::2"), place_of("2001:db8:1:2:aaaa::1"));
    EXPECT_NE(place_of("2001:db8:1:3::1"), place_of("2001:db8:1:2::1"));
    EXPECT_EQ(place_of("fe80::1%lo"), place_of("fe80::2"));
    EXPECT_EQ(place_of("nonsense"), "nonsense");
}

} // namespace
} // namespace stillmark::gateway::testing
