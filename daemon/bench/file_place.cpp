#include "daemon/bench/file_place.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <set>

namespace stillmark::bench {

using drivers::Dimension;
using nlohmann::json;

namespace {

const json& nothing() {
    static const json null;
    return null;
}

std::string shown(const json& node) {
    std::string words = node.dump(-1, ' ', false, json::error_handler_t::replace);
    if (words.size() > 60) words = words.substr(0, 57) + "...";
    return words;
}

const char* example_of(Dimension dimension) {
    switch (dimension) {
    case Dimension::pressure:
        return "140 bar";
    case Dimension::temperature:
        return "23.5 degC";
    case Dimension::temperature_interval:
        return "0.5 K";
    case Dimension::mass:
        return "2.5 kg";
    case Dimension::density:
        return "7920 kg/m3";
    case Dimension::length:
        return "85 mm";
    case Dimension::area:
        return "80.65 mm2";
    case Dimension::volume:
        return "150 mm3";
    case Dimension::time:
        return "2 s";
    case Dimension::speed:
        return "0.5 mm/min";
    case Dimension::acceleration:
        return "9.8073 m/s2";
    case Dimension::angle:
        return "0.5 mrad";
    case Dimension::surface_tension:
        return "31 mN/m";
    case Dimension::per_kelvin:
        return "9.0e-6 1/K";
    case Dimension::per_pascal:
        return "0.94e-6 1/MPa";
    case Dimension::per_pascal_squared:
        return "1e-12 1/MPa2";
    case Dimension::fraction:
        return "50 %";
    case Dimension::current:
        return "4 mA";
    case Dimension::voltage:
        return "10 V";
    case Dimension::voltage_ratio:
        return "2 mV/V";
    case Dimension::molar_mass:
        return "28.0134 g/mol";
    case Dimension::molar_volume:
        return "-5.9 cm3/mol";
    case Dimension::molar_volume_squared:
        return "1426 cm6/mol2";
    case Dimension::molar_volume_per_k:
        return "0.2 cm3/mol/K";
    }
    return "";
}

} // namespace

void Finding::say(const std::string& place, const std::string& what) {
    if (!first)
        first = place.empty() ? fmt::format("{}: {}", file, what) : fmt::format("{}: {}: {}", file, place, what);
}

Place::Place(const json& node, std::string path, Finding& finding)
    : node_(&node), path_(std::move(path)), finding_(&finding) {}

const Place& Place::only(std::initializer_list<const char*> known) const {
    if (!node_->is_object()) {
        say(fmt::format("found {} where an object belongs; write {{ ... }}", shown(*node_)));
        return *this;
    }
    for (const auto& item : node_->items()) {
        bool is_known = false;
        std::string list;
        for (const char* name : known) {
            is_known = is_known || item.key() == name;
            list += (list.empty() ? "" : ", ") + std::string(name);
        }
        if (!is_known) {
            finding_->say(path_.empty() ? item.key() : path_ + "." + item.key(),
                          fmt::format("unknown key; known here: {}", list));
            return *this;
        }
    }
    return *this;
}

bool Place::has(const char* key) const {
    return node_->is_object() && node_->contains(key);
}

Place Place::at(const char* key) const {
    const std::string path = path_.empty() ? key : path_ + "." + key;
    if (!has(key)) {
        finding_->say(path, "is missing; add it");
        return {nothing(), path, *finding_};
    }
    return {*node_->find(key), path, *finding_};
}

std::vector<Place> Place::items() const {
    std::vector<Place> places;
    if (!node_->is_array()) {
        say(fmt::format("found {} where a list belongs; write [ ... ]", shown(*node_)));
        return places;
    }
    for (std::size_t i = 0; i < node_->size(); ++i)
        places.emplace_back((*node_)[i], fmt::format("{}[{}]", path_, i), *finding_);
    return places;
}

std::vector<Place> Place::items_at(const char* key, std::size_t least) const {
    const Place list = at(key);
    auto places = list.items();
    if (places.empty() && least > 0)
        list.say(fmt::format("is empty; give at least {}", least));
    else if (places.size() < least)
        list.say(fmt::format("holds {}; give at least {}", places.size(), least));
    return places;
}

std::string Place::text() const {
    if (!node_->is_string()) {
        say(fmt::format("found {} where a text belongs; write it in quotation marks", shown(*node_)));
        return {};
    }
    auto words = node_->get<std::string>();
    if (words.empty()) say("is empty; write something");
    if (words.size() > 500) say("is longer than 500 bytes; shorten it");
    return words;
}

double Place::quantity(Dimension dimension) const {
    if (node_->is_number()) {
        say(fmt::format("{} is a bare number; write a text with a unit, for example \"{}\"", shown(*node_),
                        example_of(dimension)));
        return 1;
    }
    const auto words = text();
    if (wrong()) return 1;
    const auto value = drivers::parse_quantity(words, dimension);
    if (!value) {
        say(value.error().message);
        return 1;
    }
    return *value;
}

double Place::over_zero(Dimension dimension) const {
    const double value = quantity(dimension);
    if (!(value > 0)) {
        say(fmt::format("found {}; it must be over zero, for example \"{}\"", shown(*node_), example_of(dimension)));
        return 1;
    }
    return value;
}

int Place::whole(int least, int most) const {
    const bool is_whole = node_->is_number_integer();
    const auto value = is_whole ? node_->get<std::int64_t>() : 0;
    const bool beyond_signed = node_->is_number_unsigned() && value < 0;
    if (!is_whole)
        say(fmt::format("found {} where a whole number belongs; use {} to {}", shown(*node_), least, most));
    else if (beyond_signed || value < least || value > most)
        say(fmt::format("{} is out of range; use {} to {}", shown(*node_), least, most));
    return wrong() ? least : static_cast<int>(value);
}

double Place::number() const {
    if (!node_->is_number()) {
        say(fmt::format("found {} where a number belongs", shown(*node_)));
        return 0;
    }
    return node_->get<double>();
}

bool Place::yes_or_no() const {
    if (!node_->is_boolean()) {
        say(fmt::format("found {}; use true or false", shown(*node_)));
        return false;
    }
    return node_->get<bool>();
}

double Place::interval(Dimension dimension, double of_value) const {
    const auto words = text();
    if (wrong()) return 0;
    // "20 ppm" and "1 %" beside a value of any dimension are parts of that value.
    if (dimension != Dimension::fraction) {
        if (const auto part = drivers::parse_quantity(words, Dimension::fraction)) {
            if (of_value == 0) say(fmt::format("\"{}\" is a part of zero; give it with a unit", words));
            return *part * std::abs(of_value);
        }
    }
    return quantity(dimension == Dimension::temperature ? Dimension::temperature_interval : dimension);
}

metrology::Uncertain Place::spread(const metrology::Uncertain& value, Dimension dimension) const {
    metrology::Uncertain result = value;
    only({"value", "u", "U", "k", "limits", "distribution", "dof"});
    const int ways = int(has("u")) + int(has("U")) + int(has("limits"));
    if (ways != 1) {
        say(ways == 0 ? "no uncertainty stands beside \"value\"; give \"u\", or \"U\" with \"k\", or \"limits\", or "
                        "write the value alone as a text"
                      : "states its uncertainty more than once; keep \"u\", or \"U\" with \"k\", or \"limits\"");
        return result;
    }
    if (has("k") != has("U")) {
        say("\"U\" and \"k\" belong together; give both");
        return result;
    }
    if (has("distribution") && !has("limits")) {
        say("\"distribution\" belongs to \"limits\"; give limits, or leave it out");
        return result;
    }
    const auto positive = [&](const char* key) {
        const Place place = at(key);
        const double width = place.interval(dimension, value.value);
        if (!place.wrong() && !(width >= 0))
            place.say(fmt::format("found {}; an uncertainty has no sign", shown(place.node())));
        return width;
    };
    if (has("u")) result.u = positive("u");
    if (has("U")) {
        const Place k = at("k");
        const double factor = k.node().is_number() ? k.node().get<double>() : 0;
        if (!(factor >= 1 && factor <= 10))
            k.say(fmt::format("found {}; a coverage factor is a bare number from 1 to 10", shown(k.node())));
        result.u = positive("U") / (factor > 0 ? factor : 1);
    }
    if (has("limits")) {
        result.distribution = metrology::Distribution::rectangular;
        const auto shape = text_or("distribution", "rectangular");
        if (shape == "triangular")
            result.distribution = metrology::Distribution::triangular;
        else if (shape == "arcsine")
            result.distribution = metrology::Distribution::arcsine;
        else if (shape == "normal")
            result.distribution = metrology::Distribution::normal;
        else if (shape != "rectangular")
            at("distribution")
                .say(
                    fmt::format("\"{}\" is not a distribution; use normal, rectangular, triangular or arcsine", shape));
        result.u = metrology::standard_uncertainty(positive("limits"), result.distribution);
    }
    if (has("dof")) {
        const Place dof = at("dof");
        result.dof = dof.node().is_number() ? dof.node().get<double>() : 0;
        if (!(result.dof >= 1))
            dof.say(fmt::format("found {}; degrees of freedom are a number from 1 up", shown(dof.node())));
    }
    return result;
}

metrology::Uncertain Place::uncertain(Dimension dimension) const {
    metrology::Uncertain result;
    if (!node_->is_object()) {
        result.value = quantity(dimension);
        return result;
    }
    result.value = at("value").quantity(dimension);
    if (wrong()) return result;
    return spread(result, dimension);
}

metrology::Uncertain Place::about_zero(Dimension dimension) const {
    if (node_->is_object() && !has("value")) return spread({}, dimension);
    return uncertain(dimension);
}

std::string Place::text_or(const char* key, const std::string& otherwise) const {
    return has(key) ? at(key).text() : otherwise;
}

double Place::quantity_or(const char* key, Dimension dimension, double otherwise) const {
    return has(key) ? at(key).quantity(dimension) : otherwise;
}

double Place::size_or(const char* key, Dimension dimension, double otherwise) const {
    if (!has(key)) return otherwise;
    const Place place = at(key);
    const double value = place.quantity(dimension);
    if (!place.wrong() && value < 0) place.say(fmt::format("found {}; give it without a sign", shown(place.node())));
    return value;
}

metrology::Uncertain Place::uncertain_or(const char* key, Dimension dimension,
                                         const metrology::Uncertain& otherwise) const {
    return has(key) ? at(key).uncertain(dimension) : otherwise;
}

namespace {

/// Where the parser is in a text, told by its events: "balance.ranges[1].area". It finds keys that stand twice, of
/// which the parsed file would hold one only.
class Whereabouts {
  public:
    explicit Whereabouts(Finding& finding) : finding_(finding) {}

    void on(json::parse_event_t event, const json& parsed) {
        switch (event) {
        case json::parse_event_t::object_start:
        case json::parse_event_t::array_start:
            levels_.push_back({event == json::parse_event_t::array_start, 0, {}, {}});
            break;
        case json::parse_event_t::key:
            if (!levels_.empty()) on_key(parsed.get<std::string>());
            break;
        case json::parse_event_t::object_end:
        case json::parse_event_t::array_end:
            if (!levels_.empty()) levels_.pop_back();
            next();
            break;
        case json::parse_event_t::value:
            next();
            break;
        }
    }
    std::string path() const {
        std::string words;
        for (const auto& level : levels_) {
            if (level.is_list)
                words += fmt::format("[{}]", level.index);
            else if (!level.key.empty())
                words += (words.empty() ? "" : ".") + level.key;
        }
        return words;
    }

  private:
    struct Level {
        bool is_list;
        std::size_t index;
        std::string key;
        std::set<std::string> keys;
    };
    void on_key(std::string key) {
        auto& level = levels_.back();
        level.key = std::move(key);
        if (!level.keys.insert(level.key).second) finding_.say(path(), "stands twice in one object; keep one of them");
    }
    void next() {
        if (!levels_.empty()) ++levels_.back().index;
    }

    Finding& finding_;
    std::vector<Level> levels_;
};

std::string line_and_column(const std::string& text, std::size_t byte) {
    std::size_t line = 1, column = 1;
    for (std::size_t i = 0; i + 1 < byte && i < text.size(); ++i) {
        ++column;
        if (text[i] == '\n') {
            ++line;
            column = 1;
        }
    }
    return fmt::format("line {}, column {}", line, column);
}

} // namespace

std::optional<json> parse_json(const std::string& text, Finding& finding) {
    Whereabouts whereabouts(finding);
    const json::parser_callback_t watch = [&whereabouts](int, json::parse_event_t event, json& parsed) {
        whereabouts.on(event, parsed);
        return true;
    };
    try {
        auto parsed = json::parse(text, watch, true, true);
        if (finding.any()) return std::nullopt;
        return parsed;
    } catch (const json::parse_error& error) {
        finding.say(line_and_column(text, error.byte),
                    "this is not JSON; look for a missing comma, quotation mark or bracket just before this place");
    } catch (const json::out_of_range&) {
        finding.say(whereabouts.path(), "the number is beyond what can be computed with");
    }
    return std::nullopt;
}

} // namespace stillmark::bench
