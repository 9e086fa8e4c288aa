#include "daemon/records/overruled_readings.hpp"

#include "daemon/bench/contradiction.hpp"
#include "daemon/metrology/sentence.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::records {

namespace {

using metrology::number_value;
using metrology::sentence;
using metrology::Sentence;
using metrology::text_value;
using metrology::words_value;

Sentence press_words(const std::string& press) {
    if (press == bench::press_confirm) return sentence("that the piston floats");
    if (press == bench::press_sighted) return sentence("that the piston still floats");
    if (press == bench::press_vented) return sentence("that the line is open to air");
    if (press == bench::press_enter) return sentence("the reading of an instrument");
    return sentence("that the line is without pressure");
}

bool rests_on(const bench::Overruling& one, const bench::Mark& mark) {
    if (!mark.counts()) return false;
    if (one.interval != 0) return mark.taken.interval == one.interval;
    if (!one.visit || static_cast<std::size_t>(mark.taken.visit) != *one.visit) return false;
    return one.fact.press == bench::press_enter || one.fact.press == bench::press_vented;
}

} // namespace

std::vector<Overridden> overruled_readings(const bench::State& state, const bench::Run& run, std::size_t channel) {
    std::vector<Overridden> list;
    const auto& instruments = run.bench->instruments;
    const auto place_of = [&](const std::string& name) {
        return std::find_if(instruments.begin(), instruments.end(),
                            [&](const bench::Instrument& one) { return one.name == name; });
    };
    for (const bench::Overruling& one : state.overruled) {
        const auto& fact = one.fact;
        const bool matters = std::any_of(state.marks.begin(), state.marks.end(), [&](const bench::Mark& mark) {
            return mark.taken.run == run.id && static_cast<std::size_t>(mark.taken.channel) == channel &&
                   rests_on(one, mark);
        });
        if (fact.run != run.id || !matters || fact.channels.empty()) continue;
        const auto own = std::find(fact.channels.begin(), fact.channels.end(), instruments[channel].name);
        // Another instrument's entry is none of this one's results.
        if (fact.press == bench::press_enter && own == fact.channels.end()) continue;
        const auto at = own != fact.channels.end() ? static_cast<std::size_t>(own - fact.channels.begin()) : 0;
        const auto shown = place_of(fact.channels[at]);
        if (shown == instruments.end() || at >= fact.shows_pa.size() || at >= fact.expected_pa.size()) continue;
        bench::Gate gate;
        gate.code = bench::GateCode::readings_overruled;
        gate.run = run.id;
        gate.subject = std::to_string(fact.step + 1);
        gate.found = sentence("run {run}, step {step}: {stated} was stated while {instrument} showed {shown} "
                              "{unit} and {expected} {unit} was expected",
                              {text_value("run", run.id), text_value("step", std::to_string(fact.step + 1)),
                               words_value("stated", press_words(fact.press)), text_value("instrument", shown->name),
                               number_value("shown", bench::pressure_number(*shown, fact.shows_pa[at])),
                               number_value("expected", bench::pressure_number(*shown, fact.expected_pa[at])),
                               text_value("unit", shown->unit.symbol)});
        gate.remedy = sentence("the reason stands beside it");
        list.push_back({std::move(gate), fact.reason, fact.by, one.utc_us, true});
    }
    return list;
}

} // namespace stillmark::records
