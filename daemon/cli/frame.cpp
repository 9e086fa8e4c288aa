#include "daemon/cli/frame.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::cli {

namespace {

Check read_check(const Json& value, std::string& objection) {
    const Fields fields(value, "frame.step.check", objection);
    return {fields.text("name"),  fields.text("by"),    fields.text("unit"),      fields.text("channel"),
            fields.text("limit"), fields.text("words"), fields.flag("measuring"), fields.flag("failed")};
}

/// The texts of a step's instructions.
std::vector<std::string> read_instructions(const Fields& fields, const char* key, std::string& objection) {
    std::vector<std::string> texts;
    if (const Json* list = fields.list(key))
        for (const Json& one : *list)
            texts.push_back(
                Fields(one, fields.place_of(fmt::format("{}[{}]", key, texts.size())), objection).text("text"));
    return texts;
}

Frame::Advice read_advice(const Json& value, const std::string& place, std::string& objection) {
    const Fields fields(value, place, objection);
    return {fields.text("code"), fields.text("text"), fields.text("channel"), fields.flag("alarm"),
            fields.texts("ranked")};
}

Step read_step(const Json& value, std::string& objection) {
    const Fields fields(value, "frame.step", objection);
    Step step;
    const auto number = fields.whole("number");
    if (!number && objection.empty()) objection = "frame.step.number: it is missing";
    step.number = number.value_or(0);
    step.kind = fields.text("kind");
    step.title = fields.text("title");
    step.range = fields.text("range");
    step.wants = fields.text("wants");
    step.waits_for = fields.text("waits_for");
    step.say = read_instructions(fields, "say", objection);
    step.caution = read_instructions(fields, "caution", objection);
    step.discs = fields.texts("discs");
    step.left_s = fields.number("left_s");
    if (const Json* check = fields.object("check")) step.check = read_check(*check, objection);
    return step;
}

Load read_load(const Json& value, std::string& objection) {
    const Fields fields(value, "frame.load", objection);
    return {fields.text("range"), fields.texts("discs")};
}

FloatState read_float(const Json& value, std::string& objection) {
    const Fields fields(value, "frame.float", objection);
    return {fields.text("state"), fields.text("range"), fields.whole("since_us"), fields.whole("expires_us")};
}

Channel read_channel(const Json& value, const std::string& place, std::string& objection) {
    constexpr std::int64_t finest_parts = 100;
    const Fields fields(value, place, objection);
    Channel channel;
    channel.name = fields.text("name");
    channel.unit = fields.text("unit");
    channel.shown = fields.text("shown");
    channel.status = fields.text("status");
    channel.stillness = fields.text("stillness");
    channel.why = fields.text("why");
    channel.mark = fields.text("mark");
    channel.value = fields.number("value");
    channel.progress = fields.number("progress");
    channel.expected_s = fields.number("expected_s");
    channel.age_us = fields.whole("age_us");
    channel.poll_us = fields.whole("poll_us");
    channel.division = fields.number("division");
    const auto parts = fields.whole("parts").value_or(channel.parts);
    if (parts >= 1 && parts <= finest_parts) channel.parts = parts;
    channel.manual = fields.flag("manual");
    if (const Json* fault = fields.object("fault")) {
        const Fields of_fault(*fault, fields.place_of("fault"), objection);
        channel.fault = {of_fault.text("kind"), of_fault.text("detail"), of_fault.whole("at_us"),
                         of_fault.whole("count")};
    }
    return channel;
}

} // namespace

bool Frame::is_over_pressure() const {
    return std::any_of(advice.begin(), advice.end(), [](const Advice& one) { return one.is_over_pressure(); });
}

RunState read_run(const Json& value, const std::string& place, std::string& objection) {
    const Fields fields(value, place, objection);
    return {fields.text("id"),    fields.text("sequence"), fields.text("condition"),
            fields.text("state"), fields.whole("step"),    fields.whole("steps")};
}

Mark read_mark(const Json& value, const std::string& place, std::string& objection) {
    const Fields fields(value, place, objection);
    Mark mark;
    mark.run = fields.text("run");
    mark.channel = fields.text("channel");
    mark.target = fields.text("target");
    mark.range = fields.text("range");
    mark.direction = fields.text("direction");
    mark.status = fields.text("status");
    mark.why = fields.text("why");
    mark.unit = fields.text("unit");
    mark.flags = fields.texts("flags");
    mark.mark = fields.whole("mark");
    mark.point = fields.whole("point");
    mark.series = fields.whole("series");
    mark.reference_pa = fields.number("reference_pa");
    mark.expanded_reference_pa = fields.number("expanded_reference_pa");
    mark.mean_pa = fields.number("mean_pa");
    mark.expanded_pa = fields.number("expanded_pa");
    mark.deviation_pa = fields.number("deviation_pa");
    if (const Json* interval = fields.object("float")) {
        const Fields of_float(*interval, fields.place_of("float"), objection);
        mark.float_number = of_float.whole("number");
        mark.float_from_us = of_float.whole("from_us");
        mark.float_to_us = of_float.whole("to_us");
    }
    if (const Json* window = fields.object("window")) {
        const Fields of_window(*window, fields.place_of("window"), objection);
        mark.window_from_us = of_window.whole("from_us");
        mark.window_to_us = of_window.whole("to_us");
    }
    return mark;
}

Outcome<Frame> read_frame(const Json& message) {
    std::string objection;
    const Fields fields(message, "frame", objection);
    Frame frame;
    const auto at_us = fields.whole("at_us");
    if (!at_us && objection.empty()) objection = "frame.at_us: it is missing";
    frame.at_us = at_us.value_or(0);
    frame.bench = fields.text("bench");
    frame.journal = fields.text("journal");
    if (const Json* run = fields.object("run")) frame.run = read_run(*run, "frame.run", objection);
    if (const Json* step = fields.object("step")) frame.step = read_step(*step, objection);
    if (const Json* load = fields.object("load")) frame.load = read_load(*load, objection);
    if (const Json* floating = fields.object("float")) frame.floating = read_float(*floating, objection);
    if (const Json* channels = fields.list("channels"))
        for (const Json& channel : *channels)
            frame.channels.push_back(
                read_channel(channel, fmt::format("frame.channels[{}]", frame.channels.size()), objection));
    if (const Json* marks = fields.list("marks"))
        for (const Json& mark : *marks)
            frame.marks.push_back(read_mark(mark, fmt::format("frame.marks[{}]", frame.marks.size()), objection));
    if (const Json* advice = fields.list("advice"))
        for (const Json& one : *advice)
            frame.advice.push_back(read_advice(one, fmt::format("frame.advice[{}]", frame.advice.size()), objection));
    if (const Json* ranges = fields.list("poor_ranges"))
        for (const Json& range : *ranges) {
            const Fields of_range(range, fmt::format("frame.poor_ranges[{}]", frame.poor_ranges.size()), objection);
            frame.poor_ranges.push_back({of_range.text("range"), of_range.text("words")});
        }
    if (const Json* undo = fields.object("undo"))
        frame.undo_until_us = Fields(*undo, "frame.undo", objection).whole("until_us");
    if (!objection.empty()) return Trouble{objection};
    return frame;
}

namespace {

std::vector<Mark> read_marks(const Json& list, const std::string& place, std::string& objection) {
    std::vector<Mark> marks;
    for (const Json& mark : list)
        marks.push_back(read_mark(mark, fmt::format("{}[{}]", place, marks.size()), objection));
    return marks;
}

} // namespace

Outcome<Results> read_results(const Json& value) {
    std::string objection;
    Results results;
    if (value.is_array()) {
        results.marks = read_marks(value, "results", objection);
    } else {
        const Fields fields(value, "results", objection);
        if (const Json* run = fields.object("run")) results.run = read_run(*run, "results.run", objection);
        if (const Json* marks = fields.list("marks")) results.marks = read_marks(*marks, "results.marks", objection);
        if (const Json* missing = fields.list("missing"))
            results.missing = read_marks(*missing, "results.missing", objection);
    }
    if (!objection.empty()) return Trouble{objection};
    return results;
}

} // namespace stillmark::cli
