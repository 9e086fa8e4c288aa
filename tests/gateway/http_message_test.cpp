#include "daemon/gateway/http_message.hpp"
#include "daemon/gateway/http_routes.hpp"
#include "daemon/gateway/listen_address.hpp"
#include "daemon/gateway/looks.hpp"
#include "daemon/gateway/metrics.hpp"
#include "daemon/gateway/page_files.hpp"
#include "daemon/gateway/requests.hpp"
#include "daemon/gateway/same_site.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>

namespace stillmark::gateway::testing {
namespace {

using nlohmann::json;

TEST(HttpTarget, IsReadIntoItsPartsAndItsQuery) {
    EXPECT_TRUE(read_target("/")->parts.empty());
    const auto target = read_target("/api/runs/R%201?mark=12&name=dial+gauge%2FD&empty=&bare");
    ASSERT_TRUE(target);
    EXPECT_EQ(target->parts, (std::vector<std::string>{"api", "runs", "R 1"}));
    EXPECT_EQ(target->query, (std::map<std::string, std::string>{
                                 {"mark", "12"}, {"name", "dial gauge/D"}, {"empty", ""}, {"bare", ""}}));
    EXPECT_EQ(read_target("/p?a=\xc3\xa4")->query.at("a"), "\xc3\xa4") << "UTF-8 as it stands";
}

TEST(HttpTarget, TricksAreNoTarget) {
    for (const char* trick : {"",
                              "api",
                              "*",
                              "http://127.0.0.1/api",
                              "//api",
                              "/api/",
                              "/api//runs",
                              "/.",
                              "/..",
                              "/page/../etc",
                              "/page/%2e%2e",
                              "/page/.%2E/x",
                              "/page/%2Fetc",
                              "/page/a%5cb",
                              "/page\\x",
                              "/a%00",
                              "/a%0d%0ab",
                              "/a%7f",
                              "/%",
                              "/%2",
                              "/%zz",
                              "/a#b",
                              "/%ff",
                              "/%c0%af",
                              "/%e0%80%af",
                              "/%ed%a0%80",
                              "/%f4%90%80%80",
                              "/%c2%85",
                              "/1/2/3/4/5/6/7/8/9",
                              "/?=x",
                              "/?a=1&a=2",
                              "/?a=%00",
                              "/?&"})
        EXPECT_FALSE(read_target(trick)) << trick;
    EXPECT_FALSE(read_target("/" + std::string(2048, 'a')));
    EXPECT_TRUE(read_target("/" + std::string(2047, 'a')));
}

TEST(Problem, SaysWhatIsWrongAsRfc9457WordsIt) {
    const auto answer = problem(409, "refused", "nobody stated the load");
    EXPECT_EQ(answer.status, 409U);
    EXPECT_EQ(answer.type, "application/problem+json");
    EXPECT_EQ(json::parse(answer.body), json({{"type", "about:blank"},
                                              {"title", "Conflict"},
                                              {"status", 409},
                                              {"detail", "nobody stated the load"},
                                              {"code", "refused"}}));
}

TEST(Problem, ARefusalKeepsItsSentence) {
    const auto of = [](const char* code, unsigned refused) {
        return answer_of_reply({{"id", 1}, {"ok", false}, {"code", code}, {"error", "why"}}, refused).status;
    };
    EXPECT_EQ(of("refused", 409), 409U);
    EXPECT_EQ(of("refused", 404), 404U);
    EXPECT_EQ(of("bad_request", 409), 400U);
    EXPECT_EQ(of("not_recorded", 409), 503U);
    EXPECT_EQ(answer_of_reply({{"id", nullptr}, {"ok", true}, {"run", "R1"}}, 409).body,
              "{\"ok\":true,\"run\":\"R1\"}\n");
}

TEST(Host, IsReadWithoutItsPort) {
    EXPECT_EQ(host_in("127.0.0.1:8788"), "127.0.0.1");
    EXPECT_EQ(host_in("LocalHost"), "localhost");
    EXPECT_EQ(host_in("[::1]:8788"), "::1");
    EXPECT_EQ(host_in("[::1]"), "::1");
    for (const char* wrong : {"", ":80", "[::1", "a b", "a:", "a:8x", "a:1234567", "a/b", "a@b", "[::1]x", "a,b"})
        EXPECT_FALSE(host_in(wrong)) << wrong;
}

HttpRequest from_page(const char* host, const char* origin) {
    HttpRequest request;
    request.method = "POST";
    request.headers["host"] = host;
    if (origin != nullptr) request.headers["origin"] = origin;
    return request;
}

unsigned status_of(const std::optional<HttpAnswer>& answer) {
    return answer ? answer->status : 0;
}

TEST(SameSite, OnlyAddressesAndOwnNamesAreThisService) {
    const SameSite site{{"bench-7"}, false};
    for (const char* host : {"127.0.0.1:8788", "localhost:8788", "[::1]:8788", "192.0.2.5", "Bench-7:8788"})
        EXPECT_EQ(status_of(site.objection_to(from_page(host, nullptr), true)), 0U) << host;
    for (const char* host :
         {"evil.example:8788", "bench-7.evil.example", "localhost.evil.example", "127.0.0.1.example"})
        EXPECT_EQ(status_of(site.objection_to(from_page(host, nullptr), false)), 421U) << host;
    EXPECT_EQ(status_of(site.objection_to(from_page("", nullptr), false)), 400U);
    EXPECT_EQ(status_of(site.objection_to(HttpRequest{}, false)), 400U);
}

TEST(SameSite, ChangesComeFromTheOwnPageOrFromNone) {
    const SameSite plain{{}, false}, tls{{}, true};
    const auto status = [](const SameSite& site, const char* origin, bool changes) {
        return status_of(site.objection_to(from_page("127.0.0.1:8788", origin), changes));
    };
    EXPECT_EQ(status(plain, "http://127.0.0.1:8788", true), 0U);
    EXPECT_EQ(status(tls, "https://127.0.0.1:8788", true), 0U);
    for (const char* origin : {"null", "", "http://evil.example", "http://127.0.0.1", "http://127.0.0.1:8789",
                               "https://127.0.0.1:8788", "http://localhost:8788", "http://127.0.0.1:8788.evil.example"})
        EXPECT_EQ(status(plain, origin, true), 403U) << origin;
    EXPECT_EQ(status(tls, "http://127.0.0.1:8788", true), 403U);
    EXPECT_EQ(status(plain, "http://evil.example", false), 0U)
        << "what is only looked at, a browser keeps from that page";
    auto request = from_page("127.0.0.1:8788", nullptr);
    for (const char* site : {"cross-site", "same-site"}) {
        request.headers["sec-fetch-site"] = site;
        EXPECT_EQ(status_of(plain.objection_to(request, true)), 403U) << site;
    }
    request.headers["sec-fetch-site"] = "same-origin";
    EXPECT_EQ(status_of(plain.objection_to(request, true)), 0U);
}

TEST(ListenAddress, IsAnAddressWithAPort) {
    EXPECT_EQ(read_listen_address("127.0.0.1:8788")->port(), 8788);
    EXPECT_TRUE(read_listen_address("[::1]:0")->address().is_v6());
    for (const char* wrong : {"", "8788", ":8788", "127.0.0.1", "127.0.0.1:", "127.0.0.1:x", "127.0.0.1:65536",
                              "127.0.0.1:-1", "127.0.0.1:80 ", "localhost:80", "::1:80", "[127.0.0.1]:80", "[::1]80"}) {
        const auto read = read_listen_address(wrong);
        ASSERT_FALSE(read) << wrong;
        EXPECT_NE(read.error().find("127.0.0.1:8788"), std::string::npos) << "tells what would do";
    }
}

HttpRequest plain(const char* method, const char* path) {
    HttpRequest request;
    request.method = method;
    request.target = *read_target(path);
    return request;
}

/// Answers every question and command with what it was asked.
struct Ground {
    HttpCounts counts;
    std::vector<json> changes;
    HttpGround ground{
        [this](json request, const std::function<void(json)>& reply) {
            changes.push_back(request);
            reply({{"ok", true}, {"asked", request}});
        },
        [](json request, const std::function<void(const LookReply&)>& reply) {
            reply(std::make_shared<const json>(json{{"ok", true}, {"asked", std::move(request)}}));
        },
        [](const std::function<HttpAnswer()>& work, const std::function<void(HttpAnswer)>& give) { give(work()); },
        {},
        "/no/such/journal",
        "/no/such/records",
        nullptr,
        &counts};

    HttpAnswer answer(const HttpRequest& request) {
        auto outcome = route(request, ground);
        if (auto* at_once = std::get_if<HttpAnswer>(&outcome)) return *at_once;
        HttpAnswer given;
        if (auto* later = std::get_if<LaterAnswer>(&outcome))
            (*later)([&given](HttpAnswer a) { given = std::move(a); });
        return given;
    }
    json asked(const HttpRequest& request) { return json::parse(answer(request).body)["asked"]; }
};

HttpRequest press(const char* path, std::string body) {
    auto request = plain("POST", path);
    request.headers["content-type"] = "application/json; charset=utf-8";
    request.body = std::move(body);
    return request;
}

TEST(Routes, LeadToTheCommandsOfTheLocalSocket) {
    Ground ground;
    EXPECT_EQ(ground.asked(plain("GET", "/api/frame")), json({{"do", "status"}}));
    EXPECT_EQ(ground.asked(plain("HEAD", "/api/frame")), json({{"do", "status"}}));
    EXPECT_EQ(ground.asked(plain("GET", "/api/runs/R%201")), json({{"do", "results"}, {"run", "R 1"}}));
    EXPECT_EQ(ground.asked(press("/api/do/lost", R"({"pressed_us":5,"id":7,"do":"void","logged_in":true})")),
              json({{"do", "lost"}, {"pressed_us", 5}}));
    EXPECT_EQ(std::get<LiveView>(route(plain("GET", "/api/live?hz=20"), ground.ground)).at_most_hz, 20);
    for (const char* hz : {"0", "21", "-1", "x", "", "5.0", "99999999999"})
        EXPECT_EQ(ground.answer(plain("GET", (std::string("/api/live?hz=") + hz).c_str())).status, 400U) << hz;
}

TEST(Routes, WhatIsAskedOfTheJournalIsReadStrictly) {
    Ground ground;
    for (const char* path :
         {"/api/events?from=x", "/api/events?from=-1", "/api/events?limit=0", "/api/events?limit=501",
          "/api/events?limit=1.5", "/api/events?from=1&below=2", "/api/events?kind=Nonsense",
          "/api/events?from=99999999999999999999", "/api/readings",
          "/api/readings?channel=", "/api/readings?channel=A&last_s=0", "/api/readings?channel=A&last_s=7201",
          "/api/runs/R1/budget", "/api/runs/R1/budget?mark=0", "/api/runs/R1/budget?mark=one"})
        EXPECT_EQ(ground.answer(plain("GET", path)).status, 400U) << path;
    const auto unreadable = ground.answer(plain("GET", "/api/events?from=1&limit=500&kind=FloatConfirmed"));
    EXPECT_EQ(unreadable.status, 503U) << "the journal's own sentence";
    EXPECT_NE(unreadable.body.find("/no/such/journal"), std::string::npos);
    EXPECT_EQ(ground.answer(plain("GET", "/api/runs/R1/budget?mark=1")).status, 404U);
}

TEST(Routes, WhatIsNotInTheTableIsNotThere) {
    Ground ground;
    for (const char* path :
         {"/api", "/page", "/page/none.js", "/page/a/b", "/api/frame/x", "/api/runs/R1/x", "/etc/passwd"})
        EXPECT_EQ(ground.answer(plain("GET", path)).status, 404U) << path;
    for (const char* what : {"status", "subscribe", "results", "nothing", ""})
        EXPECT_EQ(ground.answer(press((std::string("/api/do/x") + what).c_str(), "{}")).status, 404U) << what;
    EXPECT_EQ(ground.answer(press("/api/do/status", "{}")).status, 404U) << "questions are asked with GET";
    const auto wrong = ground.answer(plain("DELETE", "/api/frame"));
    EXPECT_EQ(wrong.status, 405U);
    EXPECT_EQ(wrong.headers, (std::vector<std::pair<std::string, std::string>>{{"Allow", "GET"}}));
    EXPECT_TRUE(ground.changes.empty());
}

TEST(Routes, ABodyIsAJsonObject) {
    Ground ground;
    for (const char* body : {"", "x", "[]", "5", "{\"a\":", "{} x", "{\"a\":[[[[[[[[[1]]]]]]]]]}", "{\"a\":\"\xff\"}"})
        EXPECT_EQ(ground.answer(press("/api/do/lost", body)).status, 400U) << body;
    for (const char* type : {"", "text/plain", "application/x-www-form-urlencoded", "application/jsonx"}) {
        auto request = press("/api/do/lost", "{}");
        request.headers["content-type"] = type;
        EXPECT_EQ(ground.answer(request).status, 415U) << "a form of another page could send this: " << type;
    }
    EXPECT_TRUE(ground.changes.empty());
}

TEST(Routes, AreThoseOfTheDescription) {
    const auto described = json::parse(find_page_file("openapi.json")->bytes);
    EXPECT_EQ(described["openapi"], "3.1.0");
    std::vector<std::string> in_file, in_table, commands;
    for (const auto& [path, methods] : described["paths"].items())
        for (const auto& [method, about] : methods.items()) {
            if (path.starts_with("/api/do/"))
                commands.push_back(path.substr(8));
            else
                in_file.push_back(method + " " + path);
            EXPECT_FALSE(about["summary"].get<std::string>().empty()) << path;
        }
    for (auto& one : route_list()) {
        if (one.what == "do") continue;
        std::ranges::transform(one.method, one.method.begin(), [](char c) { return static_cast<char>(c | 0x20); });
        in_table.push_back(one.method + " " + one.path);
    }
    std::ranges::sort(in_file);
    std::ranges::sort(in_table);
    std::ranges::sort(commands);
    EXPECT_EQ(in_table, in_file);
    EXPECT_EQ(command_names(), commands);
}

TEST(Looks, EqualQuestionsAreAskedOnce) {
    Looks looks;
    int replies = 0;
    const auto count = [&replies](const LookReply&) { ++replies; };
    EXPECT_EQ(looks.next(0), nullptr);
    for (int i = 0; i < 100; ++i)
        EXPECT_TRUE(looks.add({{"do", "status"}}, count));
    EXPECT_TRUE(looks.add({{"do", "run_list"}}, count));
    EXPECT_EQ(*looks.next(1000), json({{"do", "status"}}));
    EXPECT_TRUE(looks.add({{"do", "status"}}, count)) << "its reply may be older than the question";
    EXPECT_EQ(looks.next(1001), nullptr) << "one at a time";
    looks.replied({{"ok", true}}, 1500);
    EXPECT_EQ(replies, 100);
}

TEST(Looks, TheDecidingThreadRestsAsLongAsAQuestionTook) {
    Looks looks;
    const auto nobody = [](const LookReply&) {};
    looks.add({{"do", "results"}}, nobody);
    looks.add({{"do", "status"}}, nobody);
    ASSERT_NE(looks.next(0), nullptr);
    looks.replied({}, 30'000);
    EXPECT_EQ(looks.next(59'999), nullptr);
    EXPECT_EQ(looks.rests_until_us(), 60'000);
    ASSERT_NE(looks.next(60'000), nullptr);
    looks.replied({}, 10'000'000);
    EXPECT_EQ(looks.rests_until_us(), 10'000'000 + Looks::longest_rest_us)
        << "one that was held up says nothing of its work";
}

TEST(Looks, TooManyDifferentQuestionsAreRefused) {
    Looks looks;
    for (std::size_t i = 0; i < Looks::most_waiting; ++i)
        EXPECT_TRUE(looks.add({{"do", "results"}, {"run", i}}, [](const LookReply&) {}));
    EXPECT_FALSE(looks.add({{"do", "status"}}, [](const LookReply&) {}));
    EXPECT_TRUE(looks.add({{"do", "results"}, {"run", 3}}, [](const LookReply&) {}));
}

TEST(PageFiles, ArePackedWhereTheyAreTaken) {
    const auto* file = find_page_file("dygraph.min.js");
    ASSERT_NE(file, nullptr);
    EXPECT_EQ(file->gzip.substr(0, 2), "\x1f\x8b") << "RFC 1952, 2.3.1: the two bytes that say so";
    EXPECT_LT(file->gzip.size(), file->bytes.size() / 2);
    const auto with = [file](const char* name, const std::string& value) {
        auto request = plain("GET", "/page/dygraph.min.js");
        request.headers[name] = value;
        return page_answer(*file, request);
    };
    const auto tag = [](const HttpAnswer& answer) { return answer.headers.front().second; };
    const auto whole = with("accept-encoding", "br");
    EXPECT_EQ(whole.bytes(), file->bytes);
    EXPECT_EQ(with("accept-encoding", "gzip;q=0, br").bytes(), file->bytes);
    for (const char* taken : {"gzip", "br, gzip", "deflate,gzip;q=0.5"})
        EXPECT_EQ(with("accept-encoding", taken).bytes(), file->gzip) << taken;
    EXPECT_NE(tag(with("accept-encoding", "gzip")), tag(whole)) << "other bytes, another strong tag";
    EXPECT_EQ(with("if-none-match", "\"x\", W/" + tag(whole)).status, 304U);
    EXPECT_EQ(with("if-none-match", "\"x\"").status, 200U);
    EXPECT_EQ(whole.type, "text/javascript; charset=utf-8");
    for (const auto& one : page_files())
        EXPECT_NE(page_answer(one, plain("GET", "/")).type, "application/octet-stream") << one.name;
}

TEST(Metrics, AreTheTextOfThePrometheusFormat) {
    HttpCounts counts;
    counts.frames_sent = 7;
    const json frame = {
        {"journal", "recording"},
        {"run", {{"id", "R1"}, {"step", 12}, {"state", "running"}}},
        {"float", {{"state", "confirmed"}}},
        {"advice", {"a", "b"}},
        {"channels",
         {{{"name", "a \"b\" \\ c\nd"},
           {"unit", "bar"},
           {"value", 40.0125},
           {"age_us", 12000},
           {"status", "good"},
           {"stillness", "still"},
           {"manual", false}},
          {{"name", "dial"}, {"unit", "bar"}, {"value", nullptr}, {"age_us", nullptr}, {"manual", true}}}}};
    const auto text = metrics_text(frame, counts);
    for (const char* line :
         {"# TYPE stillmark_channel_value gauge\n", "stillmark_journal_recording 1\n", "stillmark_float_confirmed 1\n",
          "stillmark_channel_value{channel=\"a \\\"b\\\" \\\\ c\\nd\",unit=\"bar\"} 40.0125\n", "stillmark_advice 2\n",
          "stillmark_run_step{run=\"R1\"} 12\n", "stillmark_http_frames_sent_total 7\n", "state=\"still\"} 1\n",
          "state=\"moving\"} 0\n", "_age_seconds{channel=\"a \\\"b\\\" \\\\ c\\nd\"} 0.012\n"})
        EXPECT_NE(text.find(line), std::string::npos) << line << text;
    EXPECT_EQ(text.find("dial"), std::string::npos) << "what was never read has no value";
    EXPECT_EQ(text.back(), '\n');
    EXPECT_FALSE(metrics_text(json::object(), counts).empty());
}

} // namespace
} // namespace stillmark::gateway::testing
