#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/event.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <array>
#include <cmath>
#include <limits>
#include <string_view>
#include <type_traits>
#include <utility>

namespace stillmark::bench {

using nlohmann::json;

namespace {

// Each fact's keys, once, for writing and for reading.
template <class F>
void keys(F&& f, ServiceStarted& e) {
    f("boot_id", e.boot_id);
    f("utc_us", e.utc_us);
    f("build", e.build);
    f("compiler", e.compiler);
    f("libm", e.libm);
    f("processor", e.processor);
}
template <class F>
void keys(F&& f, ServiceStopped& e) {
    f("why", e.why);
}
template <class F>
void keys(F&& f, ClockAnchored& e) {
    f("utc_us", e.utc_us);
}
template <class F>
void keys(F&& f, BenchTaken& e) {
    f("path", e.path);
    f("revision", e.revision);
    f("text", e.text);
    f("profiles", e.profiles);
    f("loads", e.loads);
}
template <class F>
void keys(F&& f, ReadingsRefused& e) {
    f("waiting", e.waiting);
}
template <class F>
void keys(F&& f, SurroundingsStated& e) {
    f("air_temperature_c", e.air_temperature_c);
    f("air_pressure_pa", e.air_pressure_pa);
    f("humidity", e.humidity);
    f("piston_temperature_c", e.piston_temperature_c);
    f("by", e.by);
}
template <class F>
void keys(F&& f, RunStarted& e) {
    f("run", e.run);
    f("sequence", e.sequence);
    f("condition", e.condition);
    f("instruments", e.instruments);
    f("by", e.by);
    f("override_health", e.override_health);
}
template <class F>
void keys(F&& f, RunStopped& e) {
    f("run", e.run);
    f("reason", e.reason);
    f("by", e.by);
}
template <class F>
void keys(F&& f, RunFinished& e) {
    f("run", e.run);
}
template <class F>
void keys(F&& f, StepDone& e) {
    f("step", e.step);
    f("by", e.by);
}
template <class F>
void keys(F&& f, WaitElapsed& e) {
    f("step", e.step);
}
template <class F>
void keys(F&& f, VisitReopened& e) {
    f("visit", e.visit);
    f("by", e.by);
}
template <class F>
void keys(F&& f, LoadStated& e) {
    f("range", e.range);
    f("discs", e.discs);
    f("by", e.by);
    f("pressed_us", e.pressed_us);
}
template <class F>
void keys(F&& f, FloatConfirmed& e) {
    f("range", e.range);
    f("by", e.by);
    f("pressed_us", e.pressed_us);
}
template <class F>
void keys(F&& f, FloatSighted& e) {
    f("close", e.close);
    f("by", e.by);
    f("pressed_us", e.pressed_us);
}
template <class F>
void keys(F&& f, FloatLost& e) {
    f("by", e.by);
    f("pressed_us", e.pressed_us);
}
template <class F>
void keys(F&& f, FloatExpired& e) {
    f("interval", e.interval);
}
template <class F>
void keys(F&& f, FloatUnknown& e) {
    f("interval", e.interval);
}
template <class F>
void keys(F&& f, PressUndone& e) {
    f("by", e.by);
}
template <class F>
void keys(F&& f, StillnessChanged& e) {
    f("channel", e.channel);
    f("to", e.to);
    f("reading", e.reading);
}
template <class F>
void keys(F&& f, WindowFailed& e) {
    f("channel", e.channel);
    f("first", e.first);
    f("last", e.last);
    f("why", e.why);
}
template <class F>
void keys(F&& f, ReadingEntered& e) {
    f("channel", e.channel);
    f("untapped_pa", e.untapped_pa);
    f("tapped_pa", e.tapped_pa);
    f("by", e.by);
    f("started_us", e.started_us);
    f("pressed_us", e.pressed_us);
}
template <class F>
void keys(F&& f, OvershootSeen& e) {
    f("channel", e.channel);
    f("reading", e.reading);
    f("value_pa", e.value_pa);
    f("limit_pa", e.limit_pa);
}
template <class F>
void keys(F&& f, RatingExceeded& e) {
    f("channel", e.channel);
    f("reading", e.reading);
    f("value_pa", e.value_pa);
}
template <class F>
void keys(F&& f, RatingRestored& e) {
    f("channel", e.channel);
}
template <class F>
void keys(F&& f, LossSuspected& e) {
    f("interval", e.interval);
    f("drift_pa_per_s", e.drift_pa_per_s);
    f("reasons", e.reasons);
}
template <class F>
void keys(F&& f, WrongLoadSuspected& e) {
    f("interval", e.interval);
    f("offset_pa", e.offset_pa);
    f("u_pa", e.u_pa);
    f("channels", e.channels);
    f("explanations", e.explanations);
}
template <class F>
void keys(F&& f, HealthStated& e) {
    f("range", e.range);
    f("sign", e.sign);
    f("value", e.value);
    f("pressure_pa", e.pressure_pa);
    f("by", e.by);
    f("pressed_us", e.pressed_us);
    f("utc_us", e.utc_us);
}
template <class F>
void keys(F&& f, MarkTaken& e) {
    f("mark", e.mark);
    f("run", e.run);
    f("channel", e.channel);
    f("visit", e.visit);
    f("interval", e.interval);
    f("first", e.first);
    f("last", e.last);
    f("from_us", e.from_us);
    f("to_us", e.to_us);
    f("timing_us", e.timing_us);
    f("count", e.count);
    f("mean_pa", e.mean_pa);
    f("slope_pa_per_s", e.slope_pa_per_s);
    f("scatter_pa", e.scatter_pa);
    f("effective_count", e.effective_count);
    f("u_mean_pa", e.u_mean_pa);
    f("u_mean_dof", e.u_mean_dof);
    f("resolution_pa", e.resolution_pa);
    f("untapped_pa", e.untapped_pa);
    f("tapped_pa", e.tapped_pa);
    f("reference_pa", e.reference_pa);
    f("at_balance_pa", e.at_balance_pa);
    f("u_reference_pa", e.u_reference_pa);
    f("u_reference_dof", e.u_reference_dof);
    f("u_pa", e.u_pa);
    f("u_dof", e.u_dof);
    f("deviation_pa", e.deviation_pa);
    f("approach_from", e.approach_from);
    f("approach_pa", e.approach_pa);
    f("flags", e.flags);
    f("vented", e.vented);
}
template <class F>
void keys(F&& f, MarkVoided& e) {
    f("mark", e.mark);
    f("reason", e.reason);
    f("by", e.by);
}

template <class F>
void keys(F&& f, LineVented& e) {
    f("by", e.by);
    f("pressed_us", e.pressed_us);
}

template <class F>
void keys(F&& f, CheckBegun& e) {
    f("step", e.step);
    f("by", e.by);
    f("pressed_us", e.pressed_us);
}
template <class F>
void keys(F&& f, CheckRecorded& e) {
    f("run", e.run);
    f("step", e.step);
    f("check", e.check);
    f("channel", e.channel);
    f("value", e.value);
    f("limit", e.limit);
    f("unit", e.unit);
    f("passed", e.passed);
    f("words", e.words);
    f("first", e.first);
    f("last", e.last);
    f("by", e.by);
}
template <class F>
void keys(F&& f, CheckWaived& e) {
    f("run", e.run);
    f("step", e.step);
    f("check", e.check);
    f("reason", e.reason);
    f("by", e.by);
}

template <class F>
void keys(F&& f, ParticularsStated& e) {
    f("run", e.run);
    f("instrument", e.instrument);
    f("customer", e.customer);
    f("customer_address", e.customer_address);
    f("customer_country", e.customer_country);
    f("customer_email", e.customer_email);
    f("order", e.order);
    f("received", e.received);
    f("place", e.place);
    f("condition", e.condition);
    f("mounting", e.mounting);
    f("remark", e.remark);
    f("worked_by", e.worked_by);
    f("by", e.by);
}
template <class F>
void keys(F&& f, MarkAccepted& e) {
    f("mark", e.mark);
    f("reason", e.reason);
    f("by", e.by);
    f("logged_in", e.logged_in);
}
template <class F>
void keys(F&& f, ExpiryAllowed& e) {
    f("run", e.run);
    f("certificate", e.certificate);
    f("reason", e.reason);
    f("by", e.by);
    f("logged_in", e.logged_in);
}
template <class F>
void keys(F&& f, CertificateDrafted& e) {
    f("certificate", e.certificate);
    f("edition", e.edition);
    f("runs", e.runs);
    f("instrument", e.instrument);
    f("language", e.language);
    f("replaces", e.replaces);
    f("amended_because", e.amended_because);
    f("content_sha256", e.content_sha256);
    f("by", e.by);
    f("logged_in", e.logged_in);
    f("utc_us", e.utc_us);
}
template <class F>
void keys(F&& f, CertificateSigned& e) {
    f("certificate", e.certificate);
    f("edition", e.edition);
    f("by", e.by);
    f("logged_in", e.logged_in);
    f("utc_us", e.utc_us);
    f("pdf_sha256", e.pdf_sha256);
    f("xml_sha256", e.xml_sha256);
    f("journal_number", e.journal_number);
    f("journal_digest", e.journal_digest);
    f("key", e.key);
}

template <class F>
void keys(F&& f, GateOverridden& e) {
    f("run", e.run);
    f("instrument", e.instrument);
    f("code", e.code);
    f("subject", e.subject);
    f("reason", e.reason);
    f("by", e.by);
    f("logged_in", e.logged_in);
    f("utc_us", e.utc_us);
}

template <class F>
void keys(F&& f, ReadingsOverruled& e) {
    f("run", e.run);
    f("step", e.step);
    f("press", e.press);
    f("words", e.words);
    f("channels", e.channels);
    f("shows_pa", e.shows_pa);
    f("expected_pa", e.expected_pa);
    f("far_pa", e.far_pa);
    f("reason", e.reason);
    f("by", e.by);
}

/// The names in journals, in the order of Fact.
constexpr std::array<std::string_view, std::variant_size_v<Fact>> names = {
    "ServiceStarted",     "ServiceStopped",     "ClockAnchored",      "BenchTaken",        "ReadingsRefused",
    "SurroundingsStated", "RunStarted",         "RunStopped",         "RunFinished",       "StepDone",
    "WaitElapsed",        "VisitReopened",      "LoadStated",         "FloatConfirmed",    "FloatSighted",
    "FloatLost",          "FloatExpired",       "FloatUnknown",       "PressUndone",       "StillnessChanged",
    "WindowFailed",       "ReadingEntered",     "OvershootSeen",      "RatingExceeded",    "RatingRestored",
    "LossSuspected",      "WrongLoadSuspected", "HealthStated",       "MarkTaken",         "MarkVoided",
    "LineVented",         "CheckBegun",         "CheckRecorded",      "CheckWaived",       "ParticularsStated",
    "MarkAccepted",       "ExpiryAllowed",      "CertificateDrafted", "CertificateSigned", "GateOverridden",
    "ReadingsOverruled"};

struct Write {
    json& to;
    void operator()(const char* key, double value) const {
        // JSON has no infinity; degrees of freedom often are infinite.
        if (std::isfinite(value))
            to[key] = value;
        else
            to[key] = std::isnan(value) ? "nan" : value > 0 ? "inf" : "-inf";
    }
    void operator()(const char* key, acquisition::Stillness value) const { to[key] = acquisition::word(value); }
    template <class T>
    void operator()(const char* key, const std::optional<T>& value) const {
        if (value) (*this)(key, *value);
    }
    /// Absent where there is none, as it was before there could be any.
    void operator()(const char* key, const LoadsBySequence& value) const {
        if (!value.empty()) to[key] = value;
    }
    template <class T>
    void operator()(const char* key, const T& value) const {
        to[key] = value;
    }
};

struct Read {
    const json& from;
    std::string& why;

    void wrong(const char* key) const {
        if (why.empty()) why = fmt::format("\"{}\" is missing or of another kind", key);
    }
    const json* find(const char* key) const {
        const auto it = from.find(key);
        return it == from.end() ? nullptr : &*it;
    }
    void operator()(const char* key, double& value) const {
        const json* node = find(key);
        if (node != nullptr && node->is_number())
            value = node->get<double>();
        else if (node != nullptr && *node == "inf")
            value = std::numeric_limits<double>::infinity();
        else if (node != nullptr && *node == "-inf")
            value = -std::numeric_limits<double>::infinity();
        else if (node != nullptr && *node == "nan")
            value = std::numeric_limits<double>::quiet_NaN();
        else
            wrong(key);
    }
    void operator()(const char* key, std::int64_t& value) const {
        const json* node = find(key);
        if (node != nullptr && node->is_number_integer())
            value = node->get<std::int64_t>();
        else
            wrong(key);
    }
    void operator()(const char* key, bool& value) const {
        const json* node = find(key);
        if (node != nullptr && node->is_boolean())
            value = node->get<bool>();
        else
            wrong(key);
    }
    void operator()(const char* key, std::string& value) const {
        const json* node = find(key);
        if (node != nullptr && node->is_string())
            value = node->get<std::string>();
        else
            wrong(key);
    }
    void operator()(const char* key, acquisition::Stillness& value) const {
        std::string words;
        (*this)(key, words);
        for (const auto one :
             {acquisition::Stillness::moving, acquisition::Stillness::settling, acquisition::Stillness::still,
              acquisition::Stillness::silent, acquisition::Stillness::faulty})
            if (words == acquisition::word(one)) {
                value = one;
                return;
            }
        wrong(key);
    }
    void operator()(const char* key, std::vector<std::string>& value) const {
        const json* node = find(key);
        if (node == nullptr || !node->is_array()) return wrong(key);
        for (const auto& item : *node) {
            if (!item.is_string()) return wrong(key);
            value.push_back(item.get<std::string>());
        }
    }
    void operator()(const char* key, std::vector<double>& value) const {
        const json* node = find(key);
        if (node == nullptr || !node->is_array()) return wrong(key);
        for (const auto& item : *node) {
            if (!item.is_number()) return wrong(key);
            value.push_back(item.get<double>());
        }
    }
    void operator()(const char* key, std::map<std::string, std::string>& value) const {
        const json* node = find(key);
        if (node == nullptr || !node->is_object()) return wrong(key);
        for (const auto& item : node->items()) {
            if (!item.value().is_string()) return wrong(key);
            value[item.key()] = item.value().get<std::string>();
        }
    }
    void operator()(const char* key, std::optional<std::vector<std::string>>& value) const {
        if (find(key) == nullptr) return;
        (*this)(key, value.emplace());
    }
    void operator()(const char* key, std::optional<std::string>& value) const {
        if (find(key) == nullptr) return;
        (*this)(key, value.emplace());
    }
    void operator()(const char* key, LoadsBySequence& value) const {
        const json* node = find(key);
        if (node == nullptr) return;
        if (!node->is_object()) return wrong(key);
        for (const auto& [sequence, points] : node->items()) {
            if (!points.is_array()) return wrong(key);
            for (const auto& point : points) {
                std::vector<std::string> discs;
                Read{json{{key, point}}, why}(key, discs);
                value[sequence].push_back(std::move(discs));
            }
        }
    }
    void operator()(const char* key, std::optional<bool>& value) const {
        if (find(key) == nullptr) return;
        bool flag = false;
        (*this)(key, flag);
        value = flag;
    }
    void operator()(const char* key, std::optional<double>& value) const {
        if (find(key) == nullptr) return;
        double number = 0;
        (*this)(key, number);
        value = number;
    }
};

template <class T>
Fact read(const json& from, std::string& why) {
    T fact;
    keys(Read{from, why}, fact);
    return fact;
}

/// The fact of this name, or nothing where no fact has it.
template <std::size_t... Index>
std::optional<Fact> read_named(std::string_view called, const json& from, std::string& why,
                               std::index_sequence<Index...>) {
    std::optional<Fact> fact;
    const auto try_one = [&]<std::size_t at>(std::integral_constant<std::size_t, at>) {
        if (called == names[at]) fact = read<std::variant_alternative_t<at, Fact>>(from, why);
    };
    (try_one(std::integral_constant<std::size_t, Index>()), ...);
    return fact;
}

} // namespace

std::string to_text(const Fact& fact) {
    json text;
    text["fact"] = names[fact.index()];
    std::visit([&text](auto one) { keys(Write{text}, one); }, fact);
    return text.dump(-1, ' ', false, json::error_handler_t::replace);
}

bool names_a_fact(std::string_view name) {
    return std::ranges::find(names, name) != names.end();
}

std::optional<Fact> fact_from_text(const std::string& text, std::string& why) {
    why.clear();
    const json parsed = json::parse(text, nullptr, false);
    if (!parsed.is_object() || !parsed.contains("fact") || !parsed["fact"].is_string()) {
        why = "is not a fact";
        return std::nullopt;
    }
    const auto called = parsed["fact"].get<std::string>();
    auto fact = read_named(called, parsed, why, std::make_index_sequence<names.size()>());
    if (!fact)
        why = fmt::format("\"{}\" is no fact that this build knows", called);
    else if (!why.empty()) {
        why = fmt::format("{}: {}", called, why);
        fact.reset();
    }
    return fact;
}

} // namespace stillmark::bench
