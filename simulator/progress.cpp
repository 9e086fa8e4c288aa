#include "simulator/progress.hpp"

#include "simulator/answer_reading.hpp"

#include <fmt/format.h>

#include <cstdio>

namespace stillmark::simulator {

std::string bar_text(double pressure_pa) {
    return fmt::format("{:.3f} bar", pressure_pa / 1e5);
}

void Progress::say(const std::string& words) {
    if (!shown_) return;
    fmt::print("{:7.1f} s  {}\n", static_cast<double>(now_us() - began_us_) * 1e-6, words);
    (void)std::fflush(stdout);
}

void Progress::marks(const nlohmann::json& frame) {
    for (const auto& mark : list_in(frame, "marks")) {
        const auto id = whole_in(mark, "mark");
        const auto status = text_in(mark, "status");
        auto& known = marks_[id];
        if (known == status) continue;
        if (known.empty())
            say(fmt::format("    mark {:<3} {:<16} {:>12}   deviation {:+.3f} bar, u {:.4f} bar", id,
                            text_in(mark, "channel"), bar_text(number_in(mark, "mean_pa")),
                            number_in(mark, "deviation_pa") / 1e5, number_in(mark, "u_pa") / 1e5));
        if (status == "void") say(fmt::format("    mark {:<3} is void: {}", id, text_in(mark, "why")));
        known = status;
    }
}

void Progress::frame(const nlohmann::json& frame) {
    const auto journal = text_in(frame, "journal");
    if (journal != last_journal_ && !journal.empty() && journal != "recording") say("the journal: " + journal);
    last_journal_ = journal;
    const auto& step = object_in(frame, "step");
    if (const auto title = text_in(step, "title"); !title.empty() && title != last_title_) {
        say(fmt::format("{}/{}  {}", whole_in(step, "number") + 1, whole_in(object_in(frame, "run"), "steps"), title));
        last_title_ = title;
    }
    const auto state = text_in(object_in(frame, "float"), "state");
    if (state != last_float_ && (state == "lost" || state == "expired" || state == "unknown"))
        say("    the float is " + state);
    last_float_ = state;
    marks(frame);
    for (const auto& advice : texts_in(frame, "advice"))
        if (advice_.insert(advice).second) say("    advice: " + advice);
}

} // namespace stillmark::simulator
