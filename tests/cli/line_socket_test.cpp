#include "daemon/cli/client.hpp"

#include <gtest/gtest.h>

#include <array>
#include <sys/socket.h>
#include <thread>
#include <unistd.h>

using namespace stillmark::cli;

namespace {

struct Pair {
    Pair() {
        std::array<int, 2> ends{};
        if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends.data()) != 0) std::abort();
        socket = LineSocket(ends[0]);
        other = ends[1];
    }
    ~Pair() { hang_up(); }
    void hang_up() {
        if (other >= 0) ::close(other);
        other = -1;
    }
    void say(std::string_view text) const {
        while (!text.empty()) {
            const ssize_t sent = ::send(other, text.data(), text.size(), MSG_NOSIGNAL);
            if (sent <= 0) return;
            text.remove_prefix(static_cast<std::size_t>(sent));
        }
    }
    LineSocket socket{-1};
    int other = -1;
};

} // namespace

TEST(LineSocket, GivesLinesHoweverTheBytesArrive) {
    Pair pair;
    EXPECT_EQ(pair.socket.take_line(), std::nullopt);
    pair.say("{\"a\"");
    EXPECT_FALSE(pair.socket.pump());
    EXPECT_EQ(pair.socket.take_line(), std::nullopt);
    pair.say(":1}\n\nsecond\nthi");
    EXPECT_FALSE(pair.socket.pump());
    EXPECT_EQ(pair.socket.take_line(), "{\"a\":1}");
    EXPECT_EQ(pair.socket.take_line(), "");
    EXPECT_EQ(pair.socket.take_line(), "second");
    EXPECT_EQ(pair.socket.take_line(), std::nullopt);
    pair.say("rd\n");
    EXPECT_FALSE(pair.socket.pump());
    EXPECT_EQ(pair.socket.take_line(), "third");
}

TEST(LineSocket, LinesBeforeTheEndCanStillBeTaken) {
    Pair pair;
    pair.say("last\nhalf");
    pair.hang_up();
    const auto trouble = pair.socket.pump();
    ASSERT_TRUE(trouble);
    EXPECT_EQ(trouble->message, "the service closed the connection");
    EXPECT_EQ(pair.socket.take_line(), "last");
    EXPECT_EQ(pair.socket.take_line(), std::nullopt);
}

TEST(LineSocket, GivesUpALineWithoutAnEnd) {
    Pair pair;
    std::thread flood([&] { pair.say(std::string(LineSocket::longest_line + (std::size_t{1} << 20U), 'x')); });
    std::optional<Trouble> trouble;
    for (int i = 0; i < 100'000 && !trouble; ++i)
        trouble = pair.socket.pump();
    ASSERT_TRUE(trouble);
    EXPECT_EQ(trouble->message, "a line of over 16 MiB came; this is no stillmarkd");
    pair.socket = LineSocket(-1);
    flood.join();
}

TEST(LineSocket, ALineThatIsTooLongIsNotHandedOutEvenIfItsEndCameWithIt) {
    Pair pair;
    constexpr std::size_t nearly = LineSocket::longest_line - 50'000; // the rest fits the socket's buffer
    const std::string piece(10'000, 'x');
    for (std::size_t said = 0; said < nearly; said += piece.size()) {
        pair.say(piece);
        ASSERT_FALSE(pair.socket.pump());
    }
    pair.say(std::string(60'000, 'x') + "\nanother\n");
    const auto trouble = pair.socket.pump();
    ASSERT_TRUE(trouble);
    EXPECT_EQ(trouble->message, "a line of over 16 MiB came; this is no stillmarkd");
    EXPECT_EQ(pair.socket.take_line(), std::nullopt);
}

TEST(LineSocket, SendingToOneThatIsGoneIsTroubleAndNoSignal) {
    Pair pair;
    pair.hang_up();
    EXPECT_TRUE(pair.socket.send("{}"));
}

TEST(LineSocket, SaysWhyThereIsNoConnection) {
    EXPECT_EQ(LineSocket::connect("/nonexistent/socket").error().message,
              "socket /nonexistent/socket: there is no such socket; is stillmarkd running?");
    EXPECT_TRUE(LineSocket::connect("").has_error());
    EXPECT_TRUE(LineSocket::connect(std::string(200, 'x')).has_error());
}

TEST(Reply, IsRefusedWhereItCannotBeOne) {
    EXPECT_EQ(read_reply(Json::array()).error().message,
              "the reply cannot be read: message: a list stands where an object belongs");
    EXPECT_EQ(read_reply({{"id", 1}}).error().message, "the reply cannot be read: ok: it is missing");
    EXPECT_EQ(read_reply({{"ok", 1}}).error().message,
              "the reply cannot be read: ok: a number stands where a truth value belongs");
    EXPECT_EQ(read_reply({{"ok", false}})->error, "the service refused and gave no reason");
}
