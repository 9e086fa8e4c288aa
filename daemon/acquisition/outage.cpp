#include "daemon/acquisition/outage.hpp"

#include <fmt/format.h>

namespace stillmark::acquisition {

namespace {
constexpr Micros between_repeats_us = 300'000'000;
constexpr std::uint64_t failures_of_a_loss = 5;
constexpr Micros silence_of_a_loss_us = 2'000'000;
} // namespace

std::optional<Change> Outage::failed(Micros now_us, Failing how, const std::string& what, const std::string& detail) {
    ++failures_;
    if (how == Failing::unanswered) {
        ++unanswered_;
        if (!last_answer_us_) last_answer_us_ = now_us;
    } else {
        unanswered_ = 0;
        lost_ = false;
        last_answer_us_ = now_us;
    }
    const bool lost_now =
        !lost_ && unanswered_ >= failures_of_a_loss && now_us - *last_answer_us_ >= silence_of_a_loss_us;
    lost_ = lost_ || lost_now;
    const auto line = lines_us_.find(what);
    const bool is_new = line == lines_us_.end();
    const bool quiet_long_enough = is_new || now_us - line->second >= between_repeats_us;
    if (!lost_now && how != Failing::for_good && !quiet_long_enough) return std::nullopt;

    const std::string found = detail.empty() ? what : fmt::format("{}: {}", what, detail);
    std::string words;
    if (lost_now)
        words = fmt::format("{}: lost after {} failures: {}", name_, failures_, found);
    else if (failures_ > 1 && is_new)
        words =
            fmt::format("{}: {} (after {} other failure{})", name_, found, failures_ - 1, failures_ == 2 ? "" : "s");
    else if (failures_ > 1)
        words = fmt::format("{}: still failing after {} failures: {}", name_, failures_, found);
    else
        words = fmt::format("{}: {}", name_, found);
    if (unsaid_outages_ > 0) words += fmt::format(" ({} short outages since the last line)", unsaid_outages_);
    unsaid_outages_ = 0;
    said_ = true;
    lines_us_[what] = now_us;
    return Change{std::move(words), true};
}

std::optional<Change> Outage::succeeded(Micros now_us) {
    const std::uint64_t failures = failures_;
    const bool said = said_;
    failures_ = 0;
    said_ = lost_ = false;
    unanswered_ = 0;
    last_answer_us_ = now_us;
    if (failures == 0) return std::nullopt;
    if (!said) {
        ++unsaid_outages_;
        return std::nullopt;
    }
    for (auto& [kind, line_us] : lines_us_)
        line_us = now_us;
    return Change{fmt::format("{}: answers again after {} failure{}", name_, failures, failures == 1 ? "" : "s"),
                  false};
}

} // namespace stillmark::acquisition
