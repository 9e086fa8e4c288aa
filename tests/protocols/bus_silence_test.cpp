#include "protocols/bus_silence.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <optional>

namespace stillmark::protocols {
namespace {

using namespace std::chrono_literals;
using Clock = ListenedLine::Clock;

/// A line on an invented clock, so that no other program of the machine can pause its sender: one byte every `gap`, the
/// first at `gap`, `count` of them.
class InventedLine final : public ListenedLine {
  public:
    explicit InventedLine(std::chrono::nanoseconds gap, std::size_t count = std::numeric_limits<std::size_t>::max())
        : gap_(gap), left_(count), next_(gap) {}

    Clock::time_point now() const override { return now_; }
    Readable wait(Clock::time_point until) override {
        if (gone_at && *gone_at <= std::min(until, next_)) return Readable::gone;
        if (left_ == 0 || next_ > until) {
            now_ = std::max(now_, until);
            return Readable::nothing;
        }
        now_ = next_;
        return Readable::bytes;
    }
    bool take(std::string& taken) override {
        taken += 'U';
        next_ += gap_;
        --left_;
        return true;
    }

    std::optional<Clock::time_point> gone_at;

  private:
    std::chrono::nanoseconds gap_;
    std::size_t left_;
    Clock::time_point now_{};
    Clock::time_point next_;
};

constexpr SilenceWanted at_115200_baud{Clock::time_point{}, 1750us, Clock::time_point{}};

TEST(BusSilence, ALineThatIsNeverSilentIsABadFrameAndNotAnEndlessWait) {
    for (const auto gap : {500us, 1749us}) {
        InventedLine line(gap);
        const auto found = await_silence(line, at_115200_baud);
        ASSERT_TRUE(found.has_error());
        EXPECT_EQ(found.error().fault, Fault::bad_frame);
        EXPECT_GT(line.now(), Clock::time_point(1s));
        EXPECT_LE(line.now(), Clock::time_point(1s + gap));
        EXPECT_NE(found.error().detail.find("never silent"), std::string::npos) << found.error().detail;
    }
}

TEST(BusSilence, ALineThatSendsThroughAQuarantineIsHeardASecondLonger) {
    InventedLine line(500us);
    auto wanted = at_115200_baud;
    wanted.quarantine_until = Clock::time_point(20ms);
    EXPECT_TRUE(await_silence(line, wanted).has_error());
    EXPECT_GT(line.now(), Clock::time_point(1020ms));
    EXPECT_LE(line.now(), Clock::time_point(1020ms + 500us));
}

// Modbus over Serial Line V1.02, 2.5.1.1: 1.75 ms above 19200 baud.
TEST(BusSilence, ThreeAndAHalfCharactersWithoutAByteEndTheWait) {
    InventedLine line(500us, 7);
    const auto found = await_silence(line, at_115200_baud);
    ASSERT_TRUE(found.has_value());
    EXPECT_EQ(found->stray, "UUUUUUU");
    EXPECT_EQ(found->last_byte, Clock::time_point(3500us));
    EXPECT_EQ(line.now(), Clock::time_point(3500us + 1750us));
    InventedLine slow(1751us);
    EXPECT_TRUE(await_silence(slow, at_115200_baud).has_value());
    EXPECT_EQ(slow.now(), Clock::time_point(1750us));
}

TEST(BusSilence, AQuarantineIsSatOutOnASilentLine) {
    InventedLine line(500us, 2);
    auto wanted = at_115200_baud;
    wanted.quarantine_until = Clock::time_point(20ms);
    const auto found = await_silence(line, wanted);
    ASSERT_TRUE(found.has_value());
    EXPECT_EQ(found->last_byte, Clock::time_point(1ms));
    EXPECT_EQ(line.now(), Clock::time_point(20ms));
}

TEST(BusSilence, AnAdapterThatIsPulledOutEndsTheWait) {
    InventedLine line(500us);
    line.gone_at = Clock::time_point(10ms);
    EXPECT_EQ(await_silence(line, at_115200_baud).error().fault, Fault::link_down);
}

} // namespace
} // namespace stillmark::protocols
