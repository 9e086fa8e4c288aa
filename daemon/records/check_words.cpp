#include "daemon/records/check_words.hpp"

#include "daemon/bench/steps.hpp"
#include "daemon/metrology/evaluation/unsaid.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::records {

using metrology::number_value;
using metrology::Sentence;
using metrology::sentence;
using metrology::text_value;
using metrology::words_value;

namespace {

std::string four_digits(double value) {
    return fmt::format("{:.4g}", value);
}

Sentence duration_words(double seconds) {
    constexpr double minute = 60;
    return seconds >= minute ? sentence("{minutes} min", {number_value("minutes", four_digits(seconds / minute))})
                             : sentence("{seconds} s", {number_value("seconds", four_digits(seconds))});
}

Sentence warm_up_words(double powered_s, double least_s) {
    return sentence("powered for {time}; at least {least} are asked",
                    {words_value("time", duration_words(powered_s)), words_value("least", duration_words(least_s))});
}

Sentence level_words(double tilt_rad, double most_rad) {
    constexpr double milli = 1e3;
    return sentence(
        "the level shows {tilt} mrad; at most {most} mrad are allowed",
        {number_value("tilt", four_digits(tilt_rad * milli)), number_value("most", four_digits(most_rad * milli))});
}

Sentence leak_words(const bench::Checks::Leak& leak, double fall_pa, double most_pa,
                    const bench::Instrument& instrument) {
    const double scale = 1 / instrument.unit.pascals;
    const std::vector<Sentence::Value> values{
        number_value("change", four_digits(std::abs(fall_pa) * scale)),
        text_value("unit", instrument.unit.symbol),
        words_value("time", duration_words(leak.watch_s)),
        words_value("at", metrology::as_written(leak.at)),
        number_value("most", four_digits(most_pa * scale)),
    };
    return fall_pa < 0 ? sentence("the pressure rose by {change} {unit} within {time} at {at}; at most {most} {unit} "
                                  "either way are allowed",
                                  values)
                       : sentence("the pressure fell by {change} {unit} within {time} at {at}; at most {most} {unit} "
                                  "either way are allowed",
                                  values);
}

Sentence zero_words(double off_pa, const std::optional<double>& most_pa, const bench::Instrument& instrument) {
    const double scale = 1 / instrument.unit.pascals;
    std::vector<Sentence::Value> values{number_value("off", four_digits(off_pa * scale)),
                                        text_value("unit", instrument.unit.symbol)};
    if (!most_pa) return sentence("off by {off} {unit} with the line open; no limit is stated", values);
    values.push_back(number_value("most", four_digits(*most_pa * scale)));
    return sentence("off by {off} {unit} with the line open; at most {most} {unit} are allowed", values);
}

} // namespace

Sentence check_words(const bench::CheckRecorded& check, const bench::Checks& asked,
                     const bench::Instrument& instrument) {
    if (!check.value && check.passed) return sentence("nothing was to be read");
    if (!check.value) return sentence("the readings gave no result");
    const double value = *check.value, limit = check.limit.value_or(0);
    if (check.check == word(bench::CheckKind::warm_up)) return warm_up_words(value, limit);
    if (check.check == word(bench::CheckKind::level)) return level_words(value, limit);
    if (check.check == word(bench::CheckKind::leak) && asked.leak)
        return leak_words(*asked.leak, value, limit, instrument);
    if (check.check == word(bench::CheckKind::zero)) return zero_words(value, check.limit, instrument);
    if (check.check == word(bench::CheckKind::purge) && asked.purge)
        return sentence("{turns} turns to {pressure}; at most {most}",
                        {number_value("turns", four_digits(value)),
                         words_value("pressure", metrology::as_written(asked.purge->to)),
                         number_value("most", four_digits(limit))});
    // What was long enough and did not pass was contradicted by the readings at its end.
    if (check.check == word(bench::CheckKind::preload) && !check.passed && value >= limit)
        return sentence(
            "stated afloat for {seconds} s, but the readings then contradicted it; at least {least} s are asked",
            {number_value("seconds", four_digits(value)), number_value("least", four_digits(limit))});
    if (check.check == word(bench::CheckKind::preload))
        return sentence("{seconds} s afloat; at least {least} s are asked",
                        {number_value("seconds", four_digits(value)), number_value("least", four_digits(limit))});
    return sentence("{value} {unit}; the limit is {limit} {unit}",
                    {number_value("value", four_digits(value)), text_value("unit", check.unit),
                     number_value("limit", four_digits(limit))});
}

} // namespace stillmark::records
