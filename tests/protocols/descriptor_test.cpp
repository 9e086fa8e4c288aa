#include "protocols/descriptor.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cerrno>
#include <deque>

namespace stillmark::protocols {
namespace {

/// A descriptor of which each call is scripted: what a read gives ("" zero bytes, nothing: EAGAIN), what a poll tells.
struct Script {
    std::deque<std::optional<std::string>> reads;
    std::deque<Readable> polls;

    bool take(std::string& taken) {
        return take_waiting({[this](char* into, std::size_t) -> std::ptrdiff_t {
                                 const auto next = reads.front();
                                 reads.pop_front();
                                 if (!next) {
                                     errno = EAGAIN;
                                     return -1;
                                 }
                                 std::copy(next->begin(), next->end(), into);
                                 return static_cast<std::ptrdiff_t>(next->size());
                             },
                             [this] {
                                 const auto next = polls.front();
                                 polls.pop_front();
                                 return next;
                             }},
                            taken);
    }
};

// A read of zero bytes, and the bytes come before poll() looks: the port was closed.
TEST(TakeWaiting, BytesThatComeBetweenReadAndPollAreNoLostAdapter) {
    Script script{{"", "12.5", std::nullopt}, {Readable::bytes}};
    std::string taken;
    EXPECT_TRUE(script.take(taken));
    EXPECT_EQ(taken, "12.5");
}

TEST(TakeWaiting, ZeroBytesWithNothingToReadIsSilence) {
    Script script{{"ab", ""}, {Readable::nothing}};
    std::string taken;
    EXPECT_TRUE(script.take(taken));
    EXPECT_EQ(taken, "ab");
}

TEST(TakeWaiting, AHangUpAndTheEndOfAConnectionAreTold) {
    std::string taken;
    EXPECT_FALSE((Script{{""}, {Readable::gone}}.take(taken)));
    // The end of a connection polls as readable and reads as zero bytes, again and again.
    EXPECT_FALSE((Script{{"", ""}, {Readable::bytes, Readable::bytes}}.take(taken)));
}

} // namespace
} // namespace stillmark::protocols
