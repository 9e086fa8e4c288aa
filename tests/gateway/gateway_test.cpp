#include "daemon/gateway/http_routes.hpp"
#include "daemon/gateway/local_socket.hpp"
#include "daemon/gateway/requests.hpp"
#include "decider/desk.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <atomic>
#include <mutex>
#include <poll.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <thread>
#include <unistd.h>

namespace stillmark::gateway::testing {
namespace {

using decider::testing::Desk;
using decider::testing::Folder;
using nlohmann::json;

/// A client that can do anything that a socket allows.
class Client {
  public:
    explicit Client(const std::string& path) : descriptor_(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
        sockaddr_un address{};
        address.sun_family = AF_UNIX;
        path.copy(address.sun_path, sizeof address.sun_path - 1);
        connected_ = ::connect(descriptor_, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
    }
    ~Client() { ::close(descriptor_); }
    Client(const Client&) = delete;
    Client& operator=(const Client&) = delete;

    bool connected() const { return connected_; }
    int descriptor() const { return descriptor_; }
    bool send(const std::string& bytes) {
        std::size_t sent = 0;
        while (sent < bytes.size()) {
            const auto n = ::send(descriptor_, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
            if (n <= 0) return false;
            sent += static_cast<std::size_t>(n);
        }
        return true;
    }
    /// The next line, or nothing after the time or at the end of the connection (then `ended`).
    std::optional<std::string> line(int at_most_ms = 3000) {
        for (int bound = 0; bound < 100000; ++bound) {
            if (const auto end = kept_.find('\n'); end != std::string::npos) {
                std::string found = kept_.substr(0, end);
                kept_.erase(0, end + 1);
                return found;
            }
            pollfd waiting{descriptor_, POLLIN, 0};
            if (::poll(&waiting, 1, at_most_ms) <= 0) return std::nullopt;
            char bytes[65536];
            const auto n = ::recv(descriptor_, bytes, sizeof bytes, 0);
            if (n <= 0) {
                ended = true;
                return std::nullopt;
            }
            kept_.append(bytes, static_cast<std::size_t>(n));
        }
        return std::nullopt;
    }
    json reply(const std::string& request) {
        if (!send(request + "\n")) return nullptr;
        const auto said = line();
        return said ? json::parse(*said, nullptr, false) : json(nullptr);
    }
    bool ended = false;

  private:
    int descriptor_;
    bool connected_ = false;
    std::string kept_;
};

/// A socket whose door answers {"echo": ...} at once.
struct Echo {
    Folder folder;
    std::string path = folder / "socket";
    std::atomic<int> asked{0};
    LocalSocket socket{path, {[this](json request, std::function<void(json)> reply) {
                           ++asked;
                           reply({{"id", request.contains("id") ? request["id"] : json(nullptr)},
                                  {"ok", true},
                                  {"echo", request["do"]}});
                       }}};
};

json bad_request(const std::string& error) {
    return {{"id", nullptr}, {"ok", false}, {"code", "bad_request"}, {"error", error}};
}

TEST(LocalSocket, AnswersLineByLine) {
    Echo echo;
    Client client(echo.path);
    ASSERT_TRUE(client.connected());
    EXPECT_EQ(client.reply(R"({"id":1,"do":"status"})"), json::parse(R"({"id":1,"ok":true,"echo":"status"})"));
    // Several lines at once, and one in pieces.
    ASSERT_TRUE(client.send("{\"id\":2,\"do\":\"a\"}\n{\"id\":3,\"do\":\"b\"}\n{\"id\":4,"));
    EXPECT_EQ(json::parse(client.line().value())["id"], 2);
    EXPECT_EQ(json::parse(client.line().value())["id"], 3);
    ASSERT_TRUE(client.send("\"do\":\"c\"}\n"));
    EXPECT_EQ(json::parse(client.line().value())["id"], 4);
}

TEST(LocalSocket, WhatIsNoRequestIsToldSoAndTheConnectionGoesOn) {
    Echo echo;
    Client client(echo.path);
    for (const char* line : {"", "hello", "{", "[]", "5", "null", "\"do\"", "{\"do\":\"status\"} x", "{\"do\":\xff}"})
        EXPECT_EQ(client.reply(line), bad_request("this is not a JSON object on one line")) << line;
    EXPECT_EQ(echo.asked, 0);
    EXPECT_EQ(client.reply(R"({"id":1,"do":"status"})")["ok"], true);
}

// What is nested without end would be copied and written by calls nested as deep, and end the service.
TEST(LocalSocket, NestingWithoutEndIsNoRequest) {
    Echo echo;
    Client client(echo.path);
    for (const int depth : {9, 1000, 30000}) {
        const std::string line = R"({"do":"status","id":)" + std::string(static_cast<std::size_t>(depth), '[') +
                                 std::string(static_cast<std::size_t>(depth), ']') + "}";
        EXPECT_EQ(client.reply(line), bad_request("this is not a JSON object on one line")) << depth;
    }
    EXPECT_EQ(client.reply(R"({"do":"status","id":[[1]]})")["id"], json::parse("[[1]]"));
}

TEST(LocalSocket, ALineThatIsTooLongEndsTheConnectionAndNoOther) {
    Echo echo;
    Client client(echo.path), other(echo.path);
    EXPECT_EQ(client.reply(R"({"do":")" + std::string(65000, 'x') + "\"}")["ok"], true) << "64 KiB are allowed";
    ASSERT_TRUE(client.send(std::string(65536, 'x')));
    EXPECT_EQ(json::parse(client.line().value()),
              bad_request("a line is longer than 65536 bytes; this connection ends"));
    EXPECT_FALSE(client.line());
    EXPECT_TRUE(client.ended);
    EXPECT_EQ(other.reply(R"({"do":"status"})")["ok"], true);
}

TEST(LocalSocket, HasRoomForSixtyFourClients) {
    Echo echo;
    std::vector<std::unique_ptr<Client>> clients;
    for (int i = 0; i < 64; ++i) {
        clients.push_back(std::make_unique<Client>(echo.path));
        ASSERT_EQ(clients.back()->reply(R"({"do":"status"})")["ok"], true) << i;
    }
    Client one_more(echo.path);
    one_more.send("{\"do\":\"status\"}\n");
    EXPECT_FALSE(one_more.line());
    EXPECT_TRUE(one_more.ended);
    EXPECT_EQ(clients.front()->reply(R"({"do":"status"})")["ok"], true);
    clients.pop_back();
    json after;
    for (int bound = 0; bound < 50 && after.is_null(); ++bound) {
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
        Client next(echo.path);
        after = next.reply(R"({"do":"status"})");
    }
    EXPECT_EQ(after["ok"], true) << "a place that became free is given away again";
}

TEST(LocalSocket, FramesGoToThoseWhoSubscribed) {
    Echo echo;
    Client silent(echo.path), watcher(echo.path);
    EXPECT_FALSE(echo.socket.has_subscribers());
    EXPECT_EQ(watcher.reply(R"({"id":1,"do":"subscribe","at_most_hz":0})")["error"],
              "\"at_most_hz\" is a whole number from 1 to 20");
    EXPECT_EQ(watcher.reply(R"({"id":1,"do":"subscribe","at_most_hz":18446744073709551615})")["ok"], false);
    EXPECT_FALSE(echo.socket.has_subscribers());
    EXPECT_EQ(watcher.reply(R"({"id":2,"do":"subscribe","at_most_hz":20})"), json::parse(R"({"id":2,"ok":true})"));
    EXPECT_TRUE(echo.socket.has_subscribers());
    echo.socket.publish(std::make_shared<const std::string>("{\"frame\":1}\n"));
    EXPECT_EQ(watcher.line(), "{\"frame\":1}");
    EXPECT_FALSE(silent.line(100));
    // A request still gets its reply between frames.
    EXPECT_EQ(watcher.reply(R"({"id":3,"do":"status"})")["id"], 3);
}

TEST(LocalSocket, NoMoreFramesThanAskedFor) {
    Echo echo;
    Client slow(echo.path);
    EXPECT_EQ(slow.reply(R"({"id":3,"do":"subscribe","hz":2})")["error"],
              "\"hz\": unknown key; known here: id, do, by, pressed_us, at_most_hz");
    ASSERT_EQ(slow.reply(R"({"do":"subscribe","at_most_hz":2})")["ok"], true);
    const auto frame = std::make_shared<const std::string>("{\"frame\":1}\n");
    for (int i = 0; i < 20; ++i) {
        echo.socket.publish(frame);
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
    int seen = 0;
    while (slow.line(100))
        ++seen;
    EXPECT_GE(seen, 2);
    EXPECT_LE(seen, 4) << "twenty frames in a second were offered, two a second asked for";
}

TEST(LocalSocket, ASubscriberWhoDoesNotReadMissesFramesAndNobodySuffers) {
    Echo echo;
    Client stuck(echo.path), reader(echo.path);
    ASSERT_EQ(stuck.reply(R"({"do":"subscribe","at_most_hz":20})")["ok"], true);
    ASSERT_EQ(reader.reply(R"({"do":"subscribe","at_most_hz":20})")["ok"], true);
    int seen = 0, latest = 0;
    for (int i = 1; i <= 20; ++i) {
        // More than a socket holds, so that whoever does not read is stuck at the first or second.
        echo.socket.publish(std::make_shared<const std::string>("{\"frame\":" + std::to_string(i) + ",\"x\":\"" +
                                                                std::string(300000, 'x') + "\"}\n"));
        if (const auto line = reader.line(1000)) latest = json::parse(*line)["frame"], ++seen;
        std::this_thread::sleep_for(std::chrono::milliseconds(45));
    }
    EXPECT_GE(seen, 18);
    EXPECT_EQ(latest, 20);
    EXPECT_EQ(reader.reply(R"({"do":"status"})")["ok"], true);
    // When it comes back it sees one or two old frames, and then the newest.
    std::vector<int> late;
    while (const auto line = stuck.line(300))
        late.push_back(json::parse(*line)["frame"]);
    ASSERT_FALSE(late.empty());
    EXPECT_LE(late.size(), 4U);
    EXPECT_EQ(late.back(), 20);
}

TEST(LocalSocket, AClientThatAsksAndNeverReadsIsCutOff) {
    Echo echo;
    Client greedy(echo.path), other(echo.path);
    const std::string request = R"({"do":")" + std::string(60000, 'x') + "\"}\n";
    for (int i = 0; i < 2000 && greedy.send(request); ++i) {
    }
    EXPECT_LT(echo.asked, 1000);
    EXPECT_EQ(other.reply(R"({"do":"status"})")["ok"], true);
}

TEST(LocalSocket, ReplacesAFileThatNobodyServes) {
    Folder folder;
    const auto path = folder / "socket";
    {
        const int left = ::socket(AF_UNIX, SOCK_STREAM, 0);
        sockaddr_un address{};
        address.sun_family = AF_UNIX;
        path.copy(address.sun_path, sizeof address.sun_path - 1);
        ASSERT_EQ(::bind(left, reinterpret_cast<const sockaddr*>(&address), sizeof address), 0);
        ::close(left); // as a service that was killed leaves it
    }
    EXPECT_EQ(LocalSocket::objection_to(path), std::nullopt);
    {
        LocalSocket socket(path, {[](json, std::function<void(json)> reply) { reply({{"ok", true}}); }});
        EXPECT_EQ(Client(path).reply(R"({"do":"x"})")["ok"], true);
        struct stat about {};
        ASSERT_EQ(::stat(path.c_str(), &about), 0);
        EXPECT_EQ(about.st_mode & 0777U, 0660U) << "the owner and the group may state a load, nobody else";
        EXPECT_EQ(LocalSocket::objection_to(path),
                  path + ": another service answers there; stop it, or use another path");
    }
    EXPECT_FALSE(std::filesystem::exists(path)) << "a service that ends takes its socket away";
}

TEST(LocalSocket, ObjectsToAPathThatCannotBe) {
    Folder folder;
    const auto plain = folder / "plain";
    std::ofstream(plain) << "not a socket";
    EXPECT_EQ(LocalSocket::objection_to(plain), plain + ": stands there and is no socket; use another path");
    const auto nowhere = folder / "none/socket";
    EXPECT_EQ(LocalSocket::objection_to(nowhere),
              nowhere + ": the folder " + (folder / "none") + " does not exist; make it");
    const auto lengthy = folder / std::string(120, 'x').c_str();
    EXPECT_EQ(LocalSocket::objection_to(lengthy),
              lengthy + ": a socket's path has at most 107 bytes; use a shorter one");
    EXPECT_EQ(LocalSocket::objection_to(folder / "socket"), std::nullopt);
}

// A reply may be held for the disk while the service ends.
TEST(LocalSocket, AReplyAfterItsEndGoesNowhere) {
    Folder folder;
    std::mutex mutex;
    std::function<void(json)> held;
    {
        LocalSocket socket(folder / "socket", {[&](json, std::function<void(json)> reply) {
                               const std::lock_guard lock(mutex);
                               held = std::move(reply);
                           }});
        Client client(folder / "socket");
        ASSERT_TRUE(client.send("{\"do\":\"status\"}\n"));
        for (int bound = 0; bound < 200; ++bound) {
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
            const std::lock_guard lock(mutex);
            if (held) break;
        }
        ASSERT_TRUE(held);
    }
    held({{"ok", true}});
    held = nullptr;
}

/// Asks a real deciding thread.
class Requests : public ::testing::Test {
  protected:
    json ask(const json& request) {
        std::optional<json> reply;
        answer(*desk_.decider, request, [&reply](json one) { reply = std::move(one); });
        EXPECT_TRUE(desk_.until([&reply] { return reply.has_value(); })) << request;
        return reply.value_or(json(nullptr));
    }
    void expect_bad(const json& request, const std::string& error) {
        EXPECT_EQ(ask(request), json({{"id", 7}, {"ok", false}, {"code", "bad_request"}, {"error", error}})) << request;
    }

    Folder folder_;
    Desk desk_{folder_ / "x.journal"};
};

TEST_F(Requests, MistakesAreToldWithTheKey) {
    expect_bad({{"id", 7}}, "\"do\" is missing; give a text");
    expect_bad({{"id", 7}, {"do", 5}}, "\"do\" is not a text");
    expect_bad({{"id", 7}, {"do", "polish"}}, "\"polish\" is nothing that can be done; see DEVELOPERS.md");
    expect_bad({{"id", 7}, {"do", "confirm"}, {"range", "low"}}, "\"pressed_us\" is missing; give a whole number");
    expect_bad({{"id", 7}, {"do", "confirm"}, {"pressed_us", 1}}, "\"range\" is missing; give a text");
    expect_bad({{"id", 7}, {"do", "confirm"}, {"pressed_us", "now"}, {"range", "low"}},
               "\"pressed_us\" is not a whole number");
    expect_bad({{"id", 7}, {"do", "confirm"}, {"pressed_us", 1.5}, {"range", "low"}},
               "\"pressed_us\" is not a whole number");
    expect_bad({{"id", 7}, {"do", "confirm"}, {"pressed_us", 1}, {"range", {"low"}}}, "\"range\" is not a text");
    expect_bad({{"id", 7}, {"do", "load"}, {"pressed_us", 1}, {"range", "low"}, {"discs", "A1"}},
               "\"discs\" is no list of texts");
    expect_bad({{"id", 7}, {"do", "load"}, {"pressed_us", 1}, {"range", "low"}, {"discs", {"A1", 5}}},
               "\"discs\" is no list of texts");
    expect_bad({{"id", 7}, {"do", "sighted"}, {"pressed_us", 1}, {"close", "yes"}}, "\"close\" is not true or false");
    expect_bad({{"id", 7}, {"do", "void"}, {"mark", 1}}, "\"reason\" is missing; give a text");
    expect_bad({{"id", 7}, {"do", "run_start"}, {"pressed_us", 1}}, "\"sequence\" is missing; give a text");
    expect_bad({{"id", 7}, {"do", "results"}, {"run", 5}}, "\"run\" is not a text");
}

TEST_F(Requests, AChannelIsAskedAgainByName) {
    EXPECT_EQ(ask({{"id", 7}, {"do", "retry"}, {"channel", "transmitter A"}}), json({{"id", 7}, {"ok", true}}));
    expect_bad({{"id", 7}, {"do", "retry"}}, "\"channel\" is missing; give a text");
    const auto unknown = ask({{"id", 7}, {"do", "retry"}, {"channel", "transmitter Z"}});
    EXPECT_EQ(unknown["code"], "refused");
    EXPECT_NE(unknown["error"].get<std::string>().find("transmitter A"), std::string::npos) << unknown;
}

// A mistyped key would silently mean its default.
TEST_F(Requests, UnknownKeysAreNamedWithThoseThatAreKnownAllAtOnce) {
    expect_bad({{"id", 7}, {"do", "sighted"}, {"pressed_us", 1}, {"closes", true}},
               "\"closes\": unknown key; known here: id, do, by, pressed_us, despite, reason, close");
    expect_bad({{"id", 7}, {"do", "confirm"}, {"pressed_us", 1}, {"Range", "low"}, {"discs", 5}},
               "\"range\" is missing; give a text; \"Range\": unknown key; known here: id, do, by, pressed_us, "
               "despite, reason, range; "
               "\"discs\": unknown key; known here: id, do, by, pressed_us, despite, reason, range");
    // The load as planned has no discs of its own: which of both was meant is not guessed.
    expect_bad({{"id", 7}, {"do", "load"}, {"pressed_us", 1}, {"step", 1}, {"discs", {"A1"}}},
               "\"discs\": unknown key; known here: id, do, by, pressed_us, step");
    for (const char* question : {"status", "run_list", "health_list"})
        expect_bad({{"id", 7}, {"do", question}, {"runs", 1}},
                   "\"runs\": unknown key; known here: id, do, by, pressed_us");
    expect_bad({{"id", 7}, {"do", "results"}, {"runs", 1}},
               "\"runs\": unknown key; known here: id, do, by, pressed_us, run");
    // The gateway says by itself that somebody gave a password.
    EXPECT_EQ(ask({{"id", 7}, {"do", "status"}, {"logged_in", true}})["ok"], true);
}

TEST_F(Requests, AContradictedPressNamesTheInstrumentsAndStandsWithAReason) {
    const auto now = [] { return protocols::now_us(); };
    ASSERT_EQ(desk_.start_run().kind, decider::Outcome::Kind::recorded);
    desk_.go_on_to(bench::StepKind::load);
    while (desk_.step()->kind != bench::StepKind::raise || desk_.step()->point != 1U)
        ASSERT_EQ(desk_.go_on().kind, decider::Outcome::Kind::recorded);
    desk_.pass(0.3);
    json request = {{"id", 7}, {"do", "confirm"}, {"range", "low"}, {"pressed_us", now()}};
    const auto denied = ask(request);
    EXPECT_EQ(denied["code"], "contradicted");
    ASSERT_EQ(denied["contradicted"].size(), 1U) << denied;
    const auto& one = denied["contradicted"][0];
    EXPECT_EQ(one["channel"], "transmitter A");
    EXPECT_NE(denied["error"].get<std::string>().find("transmitter A shows " + one["shows"].get<std::string>()),
              std::string::npos)
        << denied;
    EXPECT_NEAR(one["expected_pa"].get<double>(), 2e6, 2e5);
    EXPECT_GT(one["far_pa"].get<double>(), 0);
    const auto over_http = answer_of_reply(denied, 409);
    EXPECT_EQ(over_http.status, 409U);
    EXPECT_EQ(json::parse(over_http.body)["contradicted"], denied["contradicted"]);
    request["pressed_us"] = now();
    request["despite"] = true;
    EXPECT_EQ(ask(request)["code"], "bad_request") << "without a reason";
    request["reason"] = "shut off";
    request["pressed_us"] = now();
    EXPECT_EQ(ask(request)["ok"], true);
    EXPECT_EQ(ask({{"do", "results"}})["results"]["overruled"].size(), 1U);
}

TEST_F(Requests, ALookSaysWhatItCountsFor) {
    ASSERT_EQ(desk_.start_run().kind, decider::Outcome::Kind::recorded);
    while (desk_.step()->kind != bench::StepKind::read || desk_.state().open_interval() == nullptr)
        ASSERT_EQ(desk_.go_on().kind, decider::Outcome::Kind::recorded);
    const auto look = [&] { return ask({{"do", "sighted"}, {"close", false}, {"pressed_us", protocols::now_us()}}); };
    const auto nothing = look();
    EXPECT_EQ(nothing["brackets"], json::array());
    EXPECT_EQ(nothing["why"], "no mark of this float waits for a look");
    desk_.timing_us = 1'500'000;
    ASSERT_TRUE(desk_.until([&] { return !desk_.state().marks.empty(); }));
    const auto early = look();
    EXPECT_EQ(early["brackets"], json::array());
    ASSERT_EQ(early["too_early"].size(), 1U) << early;
    EXPECT_EQ(early["too_early"][0]["mark"], 1);
    EXPECT_GT(early["too_early"][0]["by_us"].get<std::int64_t>(), 0);
    EXPECT_NE(early["why"].get<std::string>().find("mark 1"), std::string::npos);
    desk_.pass(1.6);
    const auto good = look();
    EXPECT_EQ(good["brackets"], json::array({1}));
    EXPECT_EQ(good["why"], nullptr);
}

TEST_F(Requests, APressWithoutAnInstantIsNotTakenForOneOfNow) {
    for (const json& instant :
         {json(-1), json(std::numeric_limits<std::int64_t>::min()), json(std::numeric_limits<std::uint64_t>::max())})
        EXPECT_EQ(ask({{"id", 7}, {"do", "run_start"}, {"sequence", "short"}, {"pressed_us", instant}})["code"],
                  "bad_request")
            << instant;
    EXPECT_EQ(ask({{"do", "run_start"}, {"sequence", "short"}, {"pressed_us", 1}})["code"], "refused")
        << "a press of long ago";
    EXPECT_TRUE(desk_.state().runs.empty());
}

TEST_F(Requests, ARunIsWorkedByRequestsAlone) {
    const auto now = [] { return protocols::now_us(); };
    EXPECT_EQ(ask({{"id", 1}, {"do", "results"}})["error"], "there was no run yet");
    EXPECT_EQ(ask({{"id", 1},
                   {"do", "run_start"},
                   {"sequence", "short"},
                   {"condition", "as left"},
                   {"instruments", {"transmitter A"}},
                   {"by", "Ada (invented)"},
                   {"pressed_us", now()}}),
              json::parse(R"({"id":1,"ok":true,"run":"R1"})"));
    for (int bound = 0; bound < 30 && desk_.step()->kind != bench::StepKind::sight; ++bound) {
        const auto frame = ask({{"do", "status"}})["frame"];
        const std::string wants = frame["step"]["wants"];
        const auto step = frame["step"]["number"];
        if (wants == "step_done" || wants == "load")
            ASSERT_EQ(ask({{"do", wants}, {"step", step}, {"pressed_us", now()}})["ok"], true);
        else if (wants == "confirm")
            ASSERT_EQ(ask({{"do", "confirm"}, {"range", frame["step"]["range"]}, {"pressed_us", now()}})["ok"], true);
        else
            ASSERT_TRUE(desk_.until([&] { return desk_.state().running()->step != step.get<std::size_t>(); }));
    }
    EXPECT_EQ(ask({{"do", "sighted"}, {"pressed_us", now()}})["ok"], true);
    EXPECT_EQ(ask({{"do", "undo"}, {"pressed_us", now()}})["ok"], true);
    EXPECT_EQ(ask({{"do", "lost"}, {"pressed_us", now()}})["ok"], true);
    EXPECT_EQ(ask({{"id", 5}, {"do", "confirm"}, {"range", "middle"}, {"pressed_us", now()}}),
              json::parse(R"({"id":5,"ok":false,"code":"refused","error":"the balance has no range \"middle\""})"));
    EXPECT_EQ(ask({{"do", "void"}, {"mark", 9}, {"reason", "x"}})["error"], "there is no mark 9");
    EXPECT_EQ(ask({{"do", "redo"}, {"mark", 9}, {"pressed_us", now()}})["error"], "there is no mark 9");
    EXPECT_EQ(ask({{"do", "enter"},
                   {"channel", "transmitter A"},
                   {"untapped", "1 bar"},
                   {"tapped", "1 bar"},
                   {"pressed_us", now()}})["error"],
              "transmitter A is read by its wire; nothing is entered for it");
    EXPECT_EQ(ask({{"do", "enter"},
                   {"channel", "dial D"},
                   {"untapped", "1 bar"},
                   {"tapped", "1 bar"},
                   {"started_us", std::numeric_limits<std::int64_t>::min()},
                   {"pressed_us", now()}})["code"],
              "bad_request");
    EXPECT_EQ(ask({{"do", "surroundings"}, {"humidity", "46 %"}})["ok"], true);
    EXPECT_EQ(ask({{"do", "run_stop"}, {"reason", "tea"}})["ok"], true);
    const auto results = ask({{"do", "results"}, {"run", "R1"}})["results"];
    EXPECT_EQ(results["run"]["condition"], "as left");
    EXPECT_EQ(results["run"]["by"], "Ada (invented)");
    EXPECT_EQ(results["run"]["state"], "stopped");
    EXPECT_EQ(results["marks"].size(), 1U);
    EXPECT_EQ(ask({{"do", "results"}, {"run", "R9"}})["error"], "there is no run \"R9\"; see the list of runs");
    EXPECT_EQ(ask({{"do", "run_list"}})["runs"].size(), 1U);
}

} // namespace
} // namespace stillmark::gateway::testing
