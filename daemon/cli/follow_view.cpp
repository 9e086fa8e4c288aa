#include "daemon/cli/follow_view.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/follow_keys.hpp"
#include "daemon/cli/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <utility>

namespace stillmark::cli {

namespace {

using Weight = Line::Weight;

/// Lines that belong together, and how many of them the screen keeps.
struct Block {
    std::vector<Line> lines;
    int turn = 0; ///< spare lines are given out in this order
    std::size_t kept = 0;
    /// What stands for the lines from this one on, where they are left out; empty: they may go without a word.
    std::function<std::string(std::size_t)> rest = [](std::size_t) { return std::string(); };
};

/// A block that keeps `least` of its lines even on a small screen.
Block block(std::vector<Line> lines, std::size_t least, int turn) {
    Block made;
    made.lines = std::move(lines);
    made.turn = turn;
    made.kept = std::min(least, made.lines.size());
    return made;
}

/// Shares the rows among the blocks: first what each must have, then the spare ones in turn.
void share(std::vector<Block>& blocks, std::size_t rows) {
    std::size_t used = 0;
    for (const Block& one : blocks)
        used += one.kept;
    std::vector<Block*> in_turn;
    in_turn.reserve(blocks.size());
    for (Block& one : blocks)
        in_turn.push_back(&one);
    std::stable_sort(in_turn.begin(), in_turn.end(), [](const Block* a, const Block* b) { return a->turn < b->turn; });
    for (Block* one : in_turn) {
        const std::size_t spare = rows > used ? rows - used : 0;
        const std::size_t more = std::min(spare, one->lines.size() - one->kept);
        one->kept += more;
        used += more;
    }
    // What must be there may be too much still; the last in turn gives way first.
    for (auto one = in_turn.rbegin(); one != in_turn.rend() && used > rows; ++one) {
        const std::size_t less = std::min(used - rows, (*one)->kept);
        (*one)->kept -= less;
        used -= less;
    }
}

void append(std::vector<Line>& screen, const Block& one) {
    if (one.kept == 0) return;
    screen.insert(screen.end(), one.lines.begin(), one.lines.begin() + static_cast<std::ptrdiff_t>(one.kept));
    if (one.kept == one.lines.size()) return;
    if (const std::string rest = one.rest(one.kept - 1); !rest.empty()) screen.back() = {rest};
}

std::vector<Line> away_lines(const FollowState& state, Micros now_us, std::size_t columns) {
    std::string text;
    if (!state.connected)
        text = fmt::format(
            "The service is away ({}), for {}. {}", state.trouble.empty() ? "not reached yet" : state.trouble,
            span_words(now_us - state.away_since_us), state.frame ? "Below is how it was." : "Trying again.");
    else if (!state.objection.empty())
        text = fmt::format("A frame came that cannot be read: {}.", state.objection);
    else if (state.frame && !is_live(*state.frame, {now_us, true}))
        text = fmt::format("No word from the service for {}. Below is how it was.",
                           span_words(now_us - state.frame->at_us));
    if (text.empty()) return {};
    std::vector<Line> lines;
    for (const std::string& line : wrap(text, columns))
        lines.push_back({fill(line, columns), Weight::reverse});
    return lines;
}

std::vector<Line> key_lines(const FollowState& state, std::size_t columns, Micros now_us) {
    std::vector<Line> lines;
    std::string text;
    for (const std::string& key : offered_keys(state, now_us)) {
        if (!text.empty() && width(text) + 3 + width(key) > columns) lines.push_back({std::exchange(text, "")});
        text += (text.empty() ? "" : "   ") + key;
    }
    lines.push_back({text});
    return lines;
}

/// What the instruments say against a press, over the full width, and the choice.
std::vector<Line> contradiction_lines(const FollowState& state, std::size_t columns) {
    std::vector<Line> lines;
    if (!state.contradicted) return lines;
    const Contradicted& one = *state.contradicted;
    const auto add = [&](const std::string& text, Weight weight) {
        for (const std::string& line : wrap(text, columns - 4))
            lines.push_back({fill("  " + line, columns), weight});
    };
    add(fmt::format("NOT RECORDED: the instruments contradict \"{}\".", one.request.what), Weight::reverse);
    for (const std::string& text : one.says)
        add(text, Weight::reverse);
    add("Look again, or go on with a reason, which stays on record.", Weight::reverse);
    if (one.reason) add(fmt::format("Reason: {}{}", *one.reason, one.sent ? "" : "_"), Weight::bold);
    return lines;
}

std::vector<Line> message_lines(const FollowState& state, std::size_t columns) {
    constexpr std::size_t most = 5;
    std::vector<Line> lines;
    if (state.entry) lines.push_back({cut(state.entry->line(), columns), Weight::bold});
    if (state.answer) lines.push_back({cut(state.answer->line(), columns), Weight::bold});
    if (!state.message.empty())
        for (const std::string& line : wrap(state.message, columns))
            lines.push_back({state.message_is_refusal ? fill(line, columns) : line,
                             state.message_is_refusal ? Weight::reverse : Weight::bold});
    lines.resize(std::min(lines.size(), most));
    return lines;
}

/// What stands between the top line and the messages.
std::vector<Block> body(const Frame& frame, const Present& present, std::size_t columns) {
    constexpr std::size_t most_instructions = 5, most_cautions = 3, most_channels = 5, most_advice = 2,
                          rows_of_over_pressure = 12;
    const std::vector<Line> rule{{std::string(columns, '-')}};
    if (frame.is_over_pressure()) {
        Block alarm = block(over_pressure_lines(frame, columns), rows_of_over_pressure, 0);
        Block seen = block(channel_lines(frame, present, columns), most_channels, 1);
        seen.rest = [&frame, present](std::size_t line) { return rest_of_channels(frame, present, line - 1); };
        return {std::move(alarm), std::move(seen), block(float_lines(frame, present, columns), 1, 2),
                block(load_lines(frame, columns), 1, 3)};
    }
    Block instructions = block(instruction_lines(frame, columns, most_instructions + 1), most_instructions, 1);
    instructions.rest = [](std::size_t) { return "  ... and more to do: a larger window shows it."; };
    Block cautions = block(caution_lines(frame, columns), most_cautions, 1);
    cautions.rest = [](std::size_t) { return "CAUTION    ... and more: a larger window shows it."; };
    Block channels = block(channel_lines(frame, present, columns), most_channels, 2);
    // The first line is the heading.
    channels.rest = [&frame, present](std::size_t line) { return rest_of_channels(frame, present, line - 1); };
    Block advice = block(advice_lines(frame, columns), most_advice, 3);
    std::vector<Block> blocks;
    // What changes from moment to moment in length stands below what a person looks for at a known place.
    blocks.push_back(block(title_lines(frame, columns), 2, 0));
    blocks.push_back(std::move(instructions));
    blocks.push_back(std::move(cautions));
    blocks.push_back(block(rule, 1, 7));
    blocks.push_back(std::move(channels));
    blocks.push_back(block(float_lines(frame, present, columns), 1, 0));
    blocks.push_back(block(load_lines(frame, columns), 1, 3));
    blocks.push_back(block(rule, 0, 8));
    blocks.push_back(std::move(advice));
    blocks.push_back(block(waiting_lines(frame, columns), 1, 4));
    blocks.push_back(block(not_still_lines(frame, present, columns), 0, 5));
    blocks.push_back(block(mark_lines(frame, columns), 2, 6));
    return blocks;
}

void make_printable(std::vector<Line>& lines, std::size_t columns) {
    for (Line& line : lines) {
        line.text = cut(printable(line.text), columns);
        if (line.weight != Weight::reverse) line.text.erase(line.text.find_last_not_of(' ') + 1);
    }
}

} // namespace

std::vector<Line> render(const FollowState& state, std::size_t columns, std::size_t rows, Micros now_us) {
    if (columns < least_columns || rows < least_rows) {
        std::vector<Line> small;
        for (const std::string& line : wrap(fmt::format("This window is {} x {}; the live view needs {} x {}.", columns,
                                                        rows, least_columns, least_rows),
                                            std::max<std::size_t>(columns, 1)))
            small.push_back({line});
        small.resize(rows);
        return small;
    }
    const std::vector<Line> away = away_lines(state, now_us, columns);
    const std::vector<Line> keys = key_lines(state, columns, now_us);
    const std::vector<Line> messages = message_lines(state, columns);
    std::vector<Line> screen;
    if (state.frame) screen = header_lines(*state.frame, columns);
    screen.insert(screen.end(), away.begin(), away.end());
    const std::vector<Line> denied = contradiction_lines(state, columns);
    screen.insert(screen.end(), denied.begin(), denied.end());
    const std::size_t below = std::max<std::size_t>(messages.size(), 1) + keys.size();
    if (state.frame) {
        std::vector<Block> blocks = body(*state.frame, {now_us, state.connected}, columns);
        share(blocks, rows - std::min(rows, screen.size() + below));
        for (const Block& one : blocks)
            append(screen, one);
    }
    screen.resize(rows - std::min(rows, messages.size() + keys.size()));
    screen.insert(screen.end(), messages.begin(), messages.end());
    screen.insert(screen.end(), keys.begin(), keys.end());
    screen.resize(rows);
    make_printable(screen, columns);
    return screen;
}

std::vector<Line> describe(const Frame& frame, std::size_t columns, Micros now_us) {
    std::vector<Line> lines = header_lines(frame, columns);
    std::vector<Block> blocks = body(frame, {now_us, true}, columns);
    share(blocks, 100'000);
    for (const Block& one : blocks)
        append(lines, one);
    for (const auto& more : {health_lines(frame, columns), fault_lines(frame, {now_us, true}, columns)})
        lines.insert(lines.end(), more.begin(), more.end());
    make_printable(lines, columns);
    return lines;
}

} // namespace stillmark::cli
