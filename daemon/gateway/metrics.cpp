#include "daemon/gateway/metrics.hpp"

#include "daemon/gateway/http_routes.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

/// A label's value: backslash, quote and line feed are escaped, as the format asks.
std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) {
        if (c == '\\' || c == '"') out += '\\';
        if (c == '\n')
            out += "\\n";
        else
            out += c;
    }
    return out;
}

std::string number(double value) {
    if (std::isnan(value)) return "NaN";
    if (std::isinf(value)) return value > 0 ? "+Inf" : "-Inf";
    return fmt::format("{}", value);
}

class Text {
  public:
    void family(const char* name, const char* kind, const char* about) {
        name_ = name;
        out_ += fmt::format("# HELP {} {}\n# TYPE {} {}\n", name, about, name, kind);
    }
    void sample(double value, const std::string& labels = "") {
        out_ += fmt::format("{}{} {}\n", name_, labels.empty() ? "" : "{" + labels + "}", number(value));
    }
    std::string taken() { return std::move(out_); }

  private:
    std::string name_;
    std::string out_;
};

std::string text_of(const json& object, const char* key) {
    const auto found = object.find(key);
    return found != object.end() && found->is_string() ? found->get<std::string>() : std::string();
}

std::optional<double> number_of(const json& object, const char* key) {
    const auto found = object.find(key);
    return found != object.end() && found->is_number() ? std::optional(found->get<double>()) : std::nullopt;
}

std::string channel_label(const json& channel) {
    return fmt::format("channel=\"{}\"", escaped(text_of(channel, "name")));
}

void channels(Text& text, const json& list) {
    text.family("stillmark_channel_value", "gauge", "Latest reading of a channel, in the unit of its label.");
    for (const auto& one : list)
        if (const auto value = number_of(one, "value"))
            text.sample(*value, fmt::format("{},unit=\"{}\"", channel_label(one), escaped(text_of(one, "unit"))));
    text.family("stillmark_channel_age_seconds", "gauge", "Age of a channel's latest reading.");
    for (const auto& one : list)
        if (const auto age = number_of(one, "age_us")) text.sample(*age / 1e6, channel_label(one));
    text.family("stillmark_channel_good", "gauge", "1 where the latest reading of a channel is good.");
    for (const auto& one : list)
        if (!one.value("manual", false)) text.sample(text_of(one, "status") == "good" ? 1 : 0, channel_label(one));
    text.family("stillmark_channel_stillness", "gauge", "1 for what the detector says of a channel now.");
    for (const auto& one : list)
        for (const char* word : {"moving", "settling", "still", "silent", "faulty"})
            if (!one.value("manual", false))
                text.sample(text_of(one, "stillness") == word ? 1 : 0,
                            fmt::format("{},state=\"{}\"", channel_label(one), word));
}

void run(Text& text, const json& frame) {
    text.family("stillmark_run_step", "gauge", "Number of the present step of the latest run, from 0.");
    const auto found = frame.find("run");
    const bool any = found != frame.end() && found->is_object();
    if (any)
        if (const auto step = number_of(*found, "step"))
            text.sample(*step, fmt::format("run=\"{}\"", escaped(text_of(*found, "id"))));
    text.family("stillmark_run_running", "gauge", "1 while a run is under way.");
    text.sample(any && text_of(*found, "state") == "running" ? 1 : 0);
}

} // namespace

std::string metrics_text(const json& frame, const HttpCounts& counts) {
    Text text;
    text.family("stillmark_journal_recording", "gauge", "1 while the journal records, 0 while it cannot be written.");
    text.sample(text_of(frame, "journal") == "recording" ? 1 : 0);
    text.family("stillmark_float_confirmed", "gauge", "1 while the piston is confirmed afloat.");
    const auto afloat = frame.find("float");
    text.sample(afloat != frame.end() && afloat->is_object() && text_of(*afloat, "state") == "confirmed" ? 1 : 0);
    run(text, frame);
    if (const auto list = frame.find("channels"); list != frame.end() && list->is_array()) channels(text, *list);
    text.family("stillmark_advice", "gauge", "Pieces of advice that stand on the screen.");
    const auto advice = frame.find("advice");
    text.sample(advice != frame.end() ? static_cast<double>(advice->size()) : 0);

    struct Count {
        const char* name;
        const char* kind;
        const char* about;
        double value;
    };
    const std::array<Count, 10> all = {{
        {"stillmark_http_connections", "gauge", "Connections that are open.", static_cast<double>(counts.connections)},
        {"stillmark_http_live_views", "gauge", "Live views that are open.", static_cast<double>(counts.live_views)},
        {"stillmark_http_connections_total", "counter", "Connections that were taken.",
         static_cast<double>(counts.accepted)},
        {"stillmark_http_connections_refused_total", "counter", "Connections beyond the limit.",
         static_cast<double>(counts.refused_connections)},
        {"stillmark_http_requests_total", "counter", "Requests that were answered.",
         static_cast<double>(counts.requests)},
        {"stillmark_http_requests_refused_total", "counter", "Requests that were answered with 400 or above.",
         static_cast<double>(counts.refused_requests)},
        {"stillmark_http_too_slow_total", "counter", "Connections that ended because they were too slow.",
         static_cast<double>(counts.too_slow)},
        {"stillmark_http_frames_sent_total", "counter", "Frames that live views were sent.",
         static_cast<double>(counts.frames_sent)},
        {"stillmark_http_frames_missed_total", "counter", "Frames that slow live views missed.",
         static_cast<double>(counts.frames_missed)},
        {"stillmark_http_slow_views_dropped_total", "counter", "Live views that were dropped because they were slow.",
         static_cast<double>(counts.slow_views_dropped)},
    }};
    for (const auto& one : all) {
        text.family(one.name, one.kind, one.about);
        text.sample(one.value);
    }
    return text.taken();
}

} // namespace stillmark::gateway
