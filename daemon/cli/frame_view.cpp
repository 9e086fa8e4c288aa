#include "daemon/cli/frame_view.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace stillmark::cli {

namespace {

using Weight = Line::Weight;

constexpr std::size_t label_columns = 11;
constexpr Micros second_us = 1'000'000;
/// A float about to expire is told in heavier type for this long.
constexpr Micros expiry_warning_us = 20 * second_us;

/// A label, and the text wrapped beside it.
std::vector<Line> labelled(std::string_view label, const std::string& text, std::size_t columns,
                           Weight weight = Weight::plain) {
    std::vector<Line> lines;
    for (const std::string& line : wrap(text, columns - label_columns))
        lines.push_back({fill(lines.empty() ? label : "", label_columns) + line, weight});
    return lines;
}

std::string bar(double progress) {
    constexpr int cells = 10;
    const int filled = static_cast<int>(std::floor(std::clamp(progress, 0.0, 1.0) * cells));
    return "[" + std::string(static_cast<std::size_t>(filled), '#') +
           std::string(static_cast<std::size_t>(cells - filled), '.') + "]";
}

std::string plain_words(std::string text) {
    std::replace(text.begin(), text.end(), '_', ' ');
    return text;
}

/// Widths of the columns of the channel table; what remains goes to the name.
constexpr std::size_t reading_columns = 15, state_columns = 8, bar_columns = 12, expected_columns = 8, mark_columns = 7;
constexpr std::size_t gap = 2;
std::size_t name_columns(std::size_t columns) {
    return columns - (reading_columns + state_columns + bar_columns + expected_columns + mark_columns + 5 * gap);
}

std::string row(const std::string& name, const std::string& reading, const std::string& state,
                const std::string& window, const std::string& expected, const std::string& mark, std::size_t columns) {
    const std::string space(gap, ' ');
    const std::string right =
        std::string(reading_columns - std::min(width(reading), reading_columns), ' ') + cut(reading, reading_columns);
    return fill(cut_in_the_middle(name, name_columns(columns)), name_columns(columns)) + space + right + space +
           fill(state, state_columns) + space + fill(window, bar_columns) + space + fill(expected, expected_columns) +
           space + cut(mark, mark_columns);
}

/// A row whose reading is a sentence: it takes the place of reading and state.
std::string row_in_words(const std::string& name, const std::string& words, const std::string& mark,
                         std::size_t columns) {
    constexpr std::size_t room = reading_columns + state_columns + bar_columns + expected_columns + 3 * gap;
    return fill(cut_in_the_middle(name, name_columns(columns)), name_columns(columns)) + std::string(gap, ' ') +
           fill(words, room) + std::string(gap, ' ') + cut(mark, mark_columns);
}

std::string mark_word(const Channel& channel) {
    return channel.mark == "none" ? "" : channel.mark;
}

/// What the wire gave, where the fault is that of the present status.
std::string fault_now(const Channel& channel) {
    const auto& fault = channel.fault;
    return fault && fault->kind == channel.status && !fault->detail.empty() ? ": " + fault->detail : "";
}

std::string channel_row(const Channel& channel, const Frame& frame, const Present& present, std::size_t columns) {
    const std::string mark = mark_word(channel);
    if (channel.manual) {
        const std::string words = channel.shown.empty()
                                      ? "read by hand"
                                      : fmt::format("read by hand, last {} {}", channel.shown, channel.unit);
        return row_in_words(channel.name, words, mark, columns);
    }
    if (!is_fresh(channel, frame, present)) {
        const auto since = since_reading_us(channel, frame, present);
        return row_in_words(channel.name, since ? "no reading for " + span_words(*since) : "no reading yet", mark,
                            columns);
    }
    if (channel.stillness == "faulty" || !channel.value)
        return row_in_words(channel.name,
                            fmt::format("{}: {}{}", channel.stillness, plain_words(channel.status), fault_now(channel)),
                            mark, columns);
    const bool still = channel.stillness == "still";
    std::string expected = still ? "now" : "";
    if (!still && channel.expected_s && std::isfinite(*channel.expected_s) && *channel.expected_s < 1e6)
        expected = span_words(static_cast<Micros>(*channel.expected_s * 1e6));
    return row(channel.name, channel.shown + " " + channel.unit, channel.stillness, bar(channel.progress.value_or(0)),
               expected, mark, columns);
}

} // namespace

bool is_live(const Frame& frame, const Present& present) {
    return present.connected && present.now_us - frame.at_us <= second_us;
}

std::optional<Micros> since_reading_us(const Channel& channel, const Frame& frame, const Present& present) {
    if (!channel.age_us) return std::nullopt;
    return *channel.age_us + std::max<Micros>(present.now_us - frame.at_us, 0);
}

bool is_fresh(const Channel& channel, const Frame& frame, const Present& present) {
    constexpr Micros least_silence_us = second_us / 2;
    if (!is_live(frame, present) || channel.stillness == "silent") return false;
    const auto since = since_reading_us(channel, frame, present);
    // Without its polling period a channel is silent when the service says so; that word is three periods old at most.
    return since && (!channel.poll_us || *since <= std::max(3 * *channel.poll_us, least_silence_us));
}

std::vector<Line> header_lines(const Frame& frame, std::size_t columns) {
    std::string right = "journal " + (frame.journal.empty() ? "not known" : frame.journal);
    if (frame.run)
        right = fmt::format("run {}, {}, {}, {}   {}", frame.run->id, frame.run->sequence, frame.run->condition,
                            frame.run->state, right);
    right = cut(right, columns - 12);
    std::vector<Line> lines{{fill(frame.bench, columns - width(right) - 2) + "  " + right, Weight::plain}};
    if (frame.journal == "failed")
        lines.push_back(
            {fill("THE JOURNAL FAILED: nothing that is done now is recorded. Stop here.", columns), Weight::reverse});
    return lines;
}

std::vector<Line> title_lines(const Frame& frame, std::size_t columns) {
    std::string text = "No run. Begin one with: stillmark run start SEQUENCE";
    if (frame.run && frame.run->state != "running")
        text = fmt::format("Run {} is {}. Its table: stillmark results {}", frame.run->id, frame.run->state,
                           frame.run->id);
    else if (frame.step && frame.run && frame.run->steps)
        text = fmt::format("Step {} of {}: {}", frame.step->number + 1, *frame.run->steps, frame.step->title);
    else if (frame.step)
        text = fmt::format("Step {}: {}", frame.step->number + 1, frame.step->title);
    else if (frame.run)
        text = fmt::format("Run {} has no step at present", frame.run->id);
    std::vector<Line> lines;
    for (const std::string& line : wrap(text, columns, 2))
        lines.push_back({line, Weight::bold});
    return lines;
}

std::vector<Line> instruction_lines(const Frame& frame, std::size_t columns, std::size_t rows) {
    std::vector<Line> lines;
    if (!frame.step) return lines;
    std::vector<std::string> items;
    for (const std::string& text : frame.step->say)
        items.push_back(fmt::format("  {}. {}", items.size() + 1, text));
    std::size_t widest = 1;
    for (const std::string& item : items)
        widest = std::max(widest, width(item) + gap);
    if (items.size() > rows && rows > 0 && 2 * widest <= columns) {
        // Read downwards, then to the right, as the list would be read on one column.
        const std::size_t across = std::min(columns / widest, (items.size() + rows - 1) / rows);
        const std::size_t down = (items.size() + across - 1) / across;
        for (std::size_t line = 0; line < down; ++line) {
            std::string text;
            for (std::size_t i = line; i < items.size(); i += down)
                text += fill(items[i], columns / across);
            text.erase(text.find_last_not_of(' ') + 1);
            lines.push_back({text, Weight::bold});
        }
        return lines;
    }
    for (const std::string& item : items)
        for (const std::string& line : wrap(item, columns - 2, 3))
            lines.push_back({"  " + line, Weight::bold});
    return lines;
}

std::vector<Line> caution_lines(const Frame& frame, std::size_t columns) {
    std::vector<Line> lines;
    if (!frame.step) return lines;
    for (const std::string& text : frame.step->caution)
        for (const Line& line : labelled("CAUTION", text, columns, Weight::bold))
            lines.push_back(line);
    return lines;
}

std::vector<Line> waiting_lines(const Frame& frame, std::size_t columns) {
    if (!frame.step || (frame.step->waits_for.empty() && !frame.step->left_s)) return {};
    std::string text = frame.step->waits_for;
    if (const auto left = frame.step->left_s; left && std::isfinite(*left) && std::abs(*left) < 1e6)
        text += fmt::format("{}{} left", text.empty() ? "" : "; ", span_words(static_cast<Micros>(*left * 1e6)));
    return labelled("Now", text, columns);
}

std::vector<Line> float_lines(const Frame& frame, const Present& present, std::size_t columns) {
    const FloatState& floating = frame.floating;
    const std::string range = floating.range.empty() ? "" : fmt::format(", {} range", floating.range);
    if (!is_live(frame, present))
        return labelled("Float", fmt::format("not known now; it was: {}{}", floating.state, range), columns);
    Weight weight = Weight::plain;
    std::string text = floating.state + range;
    if (floating.state == "none") {
        text = "not confirmed";
    } else if (floating.state == "confirmed") {
        if (floating.since_us) text += fmt::format(", {} ago", span_words(present.now_us - *floating.since_us));
        if (floating.expires_us) {
            const Micros left = *floating.expires_us - present.now_us;
            text += fmt::format("; expires in {}", span_words(left));
            if (left < expiry_warning_us) {
                text += ": look again and press s";
                weight = Weight::bold;
            }
        }
    } else if (floating.state == "expired") {
        text += ": it was confirmed too long ago";
    } else if (floating.state == "unknown") {
        text += ": the service was away meanwhile";
    }
    return labelled("Float", text, columns, weight);
}

std::vector<Line> load_lines(const Frame& frame, std::size_t columns) {
    if (!frame.load) return labelled("Load", "not stated", columns);
    return labelled("Load", fmt::format("{} range: {}", frame.load->range, disc_words(frame.load->discs)), columns);
}

std::vector<Line> channel_lines(const Frame& frame, const Present& present, std::size_t columns) {
    if (frame.channels.empty()) return {{"No channels."}};
    std::vector<Line> lines{{row("Channel", "Reading", "State", "Window", "Still in", "Mark", columns)}};
    for (const Channel& channel : frame.channels)
        lines.push_back({channel_row(channel, frame, present, columns), Weight::bold});
    return lines;
}

std::string rest_of_channels(const Frame& frame, const Present& present, std::size_t first) {
    std::map<std::string, int> counts;
    for (std::size_t i = first; i < frame.channels.size(); ++i) {
        const Channel& channel = frame.channels[i];
        ++counts[channel.manual                      ? "read by hand"
                 : is_fresh(channel, frame, present) ? channel.stillness
                                                     : "without a reading"];
    }
    std::string text;
    for (const auto& [state, count] : counts)
        text += fmt::format("{}{} {}", text.empty() ? "" : ", ", count, state);
    return fmt::format("and {} more channels: {}", frame.channels.size() - std::min(first, frame.channels.size()),
                       text);
}

std::vector<Line> fault_lines(const Frame& frame, const Present& present, std::size_t columns) {
    std::vector<Line> lines;
    for (const Channel& channel : frame.channels) {
        if (!channel.fault) continue;
        const auto& fault = *channel.fault;
        std::string text = fmt::format("{}: {}", channel.name, plain_words(fault.kind));
        if (fault.count.value_or(1) > 1) text += fmt::format(", {} times", *fault.count);
        if (fault.at_us) text += fmt::format(", {} ago", span_words(present.now_us - *fault.at_us));
        if (!fault.detail.empty()) text += ": " + fault.detail;
        for (Line& line : labelled(lines.empty() ? "Faults" : "", text, columns))
            lines.push_back(std::move(line));
    }
    return lines;
}

std::vector<Line> health_lines(const Frame& frame, std::size_t columns) {
    std::vector<Line> lines;
    for (const auto& one : frame.poor_ranges)
        for (Line& line : labelled(lines.empty() ? "Health" : "", one.words, columns))
            lines.push_back(std::move(line));
    return lines;
}

std::vector<Line> not_still_lines(const Frame& frame, const Present& present, std::size_t columns) {
    std::map<std::string, std::vector<std::string>> names;
    for (const Channel& channel : frame.channels)
        if (!channel.manual && !channel.why.empty() && channel.stillness != "still" &&
            is_fresh(channel, frame, present))
            names[channel.why].push_back(channel.name);
    std::string text;
    for (const auto& [why, of] : names)
        text += fmt::format("{}{} ({})", text.empty() ? "" : "; ", why, fmt::join(of, ", "));
    return text.empty() ? std::vector<Line>{} : labelled("Not still", text, columns);
}

std::vector<Line> mark_lines(const Frame& frame, std::size_t columns) {
    std::vector<Line> lines;
    if (frame.marks.empty()) return lines;
    Table table;
    table.add_column("Mark", Table::Align::right);
    table.add_column("Channel");
    table.add_column("Target", Table::Align::right);
    table.add_column("Range", Table::Align::left, 1);
    table.add_column("Deviation", Table::Align::right);
    table.add_column("U", Table::Align::right);
    table.add_column("Status");
    for (std::size_t i = frame.marks.size(); i-- > 0;) {
        const Mark* mark = &frame.marks[i];
        const Shown shown = show_with(mark->unit, mark->expanded_pa, mark->reference_pa.value_or(0));
        const std::string remark = remark_words(*mark);
        table.add_row({mark->mark ? fmt::format("{}", *mark->mark) : "-", cut_in_the_middle(mark->channel, 20),
                       fmt::format("{} {}", mark->target, mark->direction), mark->range,
                       fmt::format("{} {}", shown.signed_number(mark->deviation_pa), shown.unit),
                       fmt::format("{} {}", shown.number(mark->expanded_pa), shown.unit),
                       remark.empty() ? mark->status : remark});
    }
    for (std::string& line : table.lines(columns))
        lines.push_back({std::move(line)});
    return lines;
}

std::vector<Line> over_pressure_lines(const Frame& frame, std::size_t columns) {
    std::vector<Line> lines{{"", Weight::reverse}, {"  OVER-PRESSURE", Weight::reverse}, {"", Weight::reverse}};
    for (const auto& one : frame.advice)
        if (one.is_over_pressure())
            for (const std::string& line : wrap(one.text, columns - 4))
                lines.push_back({"  " + line, Weight::reverse});
    lines.push_back({"", Weight::reverse});
    for (const std::string& line :
         wrap("Keep clear of joints and hoses. The step and its keys come back when no instrument reads above the "
              "rating.",
              columns - 4))
        lines.push_back({"  " + line, Weight::reverse});
    lines.push_back({"", Weight::reverse});
    for (Line& line : lines)
        line.text = fill(line.text, columns);
    return lines;
}

std::vector<Line> advice_lines(const Frame& frame, std::size_t columns) {
    std::vector<Line> lines;
    const auto add = [&](const std::string& text, Weight weight) {
        for (const Line& line : labelled("Advice", text, columns, weight))
            lines.push_back(line);
    };
    for (const auto& one : frame.advice) {
        if (one.is_over_pressure()) continue;
        add(one.text, one.alarm ? Weight::bold : Weight::plain);
        for (std::size_t i = 0; i < one.ranked.size(); ++i)
            add(fmt::format("{}. {}", i + 1, one.ranked[i]), Weight::plain);
    }
    return lines;
}

} // namespace stillmark::cli
