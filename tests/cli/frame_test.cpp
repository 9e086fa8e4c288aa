#include "cli/frames_of_test.hpp"

#include <gtest/gtest.h>

using namespace stillmark::cli;

namespace {

std::string objection_to(const Json& frame) {
    const auto read = read_frame(frame);
    return read ? "" : read.error().message;
}

/// Every place in a value, as a pointer.
void places(const Json& value, const Json::json_pointer& at, std::vector<Json::json_pointer>& all) {
    all.push_back(at);
    if (value.is_object())
        for (const auto& [key, inner] : value.items())
            places(inner, at / key, all);
    if (value.is_array())
        for (std::size_t i = 0; i < value.size(); ++i)
            places(value[i], at / i, all);
}

} // namespace

TEST(Frame, IsReadWhole) {
    const auto frame = read_frame(frame_of_test("read"));
    ASSERT_TRUE(frame) << frame.error().message;
    EXPECT_EQ(frame->at_us, frame_at_us);
    ASSERT_TRUE(frame->step);
    EXPECT_EQ(frame->step->number, 14);
    EXPECT_EQ(frame->step->wants, "enter");
    ASSERT_EQ(frame->channels.size(), 4U);
    EXPECT_EQ(frame->channels[0].value, 4.00123e6);
    EXPECT_EQ(frame->channels[0].poll_us, 50'000);
    EXPECT_TRUE(frame->channels[3].manual);
    EXPECT_EQ(frame->floating.expires_us, frame_at_us + 228'000'000);
    ASSERT_EQ(frame->marks.size(), 4U);
    EXPECT_EQ(frame->marks[0].deviation_pa, 1512.0);
}

TEST(Frame, NamesThePlaceThatIsNotAsAgreed) {
    Json frame = frame_of_test("read");
    frame["channels"][2]["value"] = "40 bar";
    EXPECT_EQ(objection_to(frame), "frame.channels[2].value: a text stands where a number belongs");
    frame = frame_of_test("read");
    frame["step"]["say"][1] = 7;
    EXPECT_EQ(objection_to(frame), "frame.step.say[1]: a number stands where an object belongs");
    frame = frame_of_test("read");
    frame["advice"] = {{{"code", "beyond_point"}, {"alarm", true}, {"text", 7}}};
    EXPECT_EQ(objection_to(frame), "frame.advice[0].text: a number stands where a text belongs");
    frame = frame_of_test("read");
    frame["at_us"] = 1.5;
    EXPECT_EQ(objection_to(frame), "frame.at_us: 1.5 is no whole number");
    frame.erase("at_us");
    EXPECT_EQ(objection_to(frame), "frame.at_us: it is missing");
    EXPECT_EQ(objection_to(Json(7)), "frame: a number stands where an object belongs");
}

TEST(Frame, SurvivesAnyValueAtAnyPlace) {
    const Json good = frame_of_test("faulty");
    std::vector<Json::json_pointer> all;
    places(good, Json::json_pointer(), all);
    ASSERT_GT(all.size(), 100U);
    const std::vector<Json> wrong{nullptr,       true, -1, 1e300, 18446744073709551615U, "x", Json::array({1, "x"}),
                                  Json::object()};
    for (const auto& place : all)
        for (const Json& value : wrong) {
            Json frame = good;
            frame[place] = value;
            static_cast<void>(objection_to(frame));
        }
}

TEST(Frame, AnUnreadableOneLeavesTheLastReadableOne) {
    FollowState state = view_of_test("read");
    take_frame(state, {{"frame", {{"at_us", "now"}}}}, frame_at_us);
    EXPECT_EQ(state.objection, "frame.at_us: a text stands where a number belongs");
    ASSERT_TRUE(state.frame);
    EXPECT_EQ(state.frame->step->number, 14);
    take_frame(state, {{"ok", true}}, frame_at_us);
    EXPECT_EQ(state.objection, "frame: it is missing");
    take_frame(state, {{"frame", frame_of_test("sight")}}, frame_at_us);
    EXPECT_EQ(state.objection, "");
}
