#include "daemon/metrology/evaluation/method.hpp"

#include <algorithm>

namespace stillmark::metrology {

namespace {

/// Equal steps from 0 to 1.
std::vector<double> equal_parts(int points) {
    std::vector<double> parts;
    parts.reserve(static_cast<std::size_t>(points));
    for (int i = 0; i < points; ++i)
        parts.push_back(static_cast<double>(i) / (points - 1));
    return parts;
}

const MethodSeries up{true, SeriesRole::cycle, false, {}};
const MethodSeries down{false, SeriesRole::cycle, false, {}};

MethodSeries again_at(std::vector<double> parts) {
    return {true, SeriesRole::repeatability, false, std::move(parts)};
}

const char* const cg17 = "EURAMET cg-17 v4.1, 5.2";
const char* const dkd_table = "an accredited laboratory's public table of DKD-R 6-1 (03/2014)";
const char* const dkd = "DKD-R 6-1 (03/2014)";

Method cg17_basic() {
    // A cycle of six points; two of them are measured twice more rising, which makes three.
    return {"EURAMET cg-17 basic",
            Guide::cg17,
            equal_parts(6),
            1,
            30,
            0,
            0,
            0,
            {up, down, again_at({0, 0.4}), again_at({0, 0.4})},
            0.002,
            {{"points, series, least uncertainty", Provenance::read, "EURAMET cg-17 v4.1, 5.2.1"},
             {"preloads", Provenance::from_memory, cg17},
             {"formulas of the evaluation", Provenance::from_memory, "EURAMET cg-17, 7"}}};
}

Method cg17_standard() {
    return {"EURAMET cg-17 standard",
            Guide::cg17,
            equal_parts(11),
            2,
            30,
            0,
            0,
            0,
            {up, down, again_at({0, 0.2, 0.5, 0.8}), again_at({0, 0.2, 0.5, 0.8})},
            0.0005,
            {{"points, series, uncertainties", Provenance::from_memory, "EURAMET cg-17, 5.2.2"},
             {"preloads", Provenance::from_memory, cg17},
             {"formulas of the evaluation", Provenance::from_memory, "EURAMET cg-17, 7"}}};
}

Method cg17_comprehensive() {
    return {"EURAMET cg-17 comprehensive",
            Guide::cg17,
            equal_parts(11),
            3,
            30,
            0,
            0,
            0,
            {up, down, up, down, up, down},
            0,
            {{"points, series, uncertainties", Provenance::from_memory, "EURAMET cg-17, 5.2.3"},
             {"preloads", Provenance::from_memory, cg17},
             {"formulas of the evaluation", Provenance::from_memory, "EURAMET cg-17, 7"}}};
}

Method dkd_sequence(const char* name, int points, int preloads, std::vector<MethodSeries> series) {
    return {name,
            Guide::dkd_r_6_1,
            equal_parts(points),
            preloads,
            30,
            30,
            120,
            300,
            std::move(series),
            0,
            {{"points, preloads, waits", Provenance::second_hand, dkd_table},
             {"series", Provenance::from_memory, dkd},
             {"formulas of the evaluation", Provenance::from_memory, "DKD-R 6-1, 8"}}};
}

const std::vector<Method>& catalogue() {
    static const std::vector<Method> all{
        cg17_basic(),
        cg17_standard(),
        cg17_comprehensive(),
        dkd_sequence("DKD-R 6-1 A", 9, 3,
                     {up,
                      down,
                      up,
                      down,
                      {true, SeriesRole::reproducibility, true, {}},
                      {false, SeriesRole::reproducibility, false, {}}}),
        dkd_sequence("DKD-R 6-1 B", 9, 2, {up, down, up}),
        dkd_sequence("DKD-R 6-1 C", 5, 1, {up, down}),
        {"EN 837-1",
         Guide::en_837_1,
         {},
         0,
         0,
         0,
         0,
         0,
         {},
         0,
         {{"number of points", Provenance::second_hand, "a test instruction that quotes EN 837-1"},
          {"limits of permissible error", Provenance::read, "EN 837-1:1996, table 11"},
          {"range of validity, hysteresis", Provenance::from_memory, "EN 837-1, 9 and 10"}}},
    };
    return all;
}

} // namespace

const char* word(SeriesRole role) {
    switch (role) {
    case SeriesRole::cycle:
        return "cycle";
    case SeriesRole::repeatability:
        return "repeatability";
    case SeriesRole::reproducibility:
        return "reproducibility";
    }
    return "";
}

const char* word(Provenance provenance) {
    switch (provenance) {
    case Provenance::read:
        return "read";
    case Provenance::second_hand:
        return "second hand";
    case Provenance::from_memory:
        return "from memory";
    }
    return "";
}

bool Method::from_memory() const {
    return std::any_of(sources.begin(), sources.end(),
                       [](const MethodSource& one) { return one.provenance == Provenance::from_memory; });
}

Sentence method_not_confirmed() {
    return sentence("method data not confirmed against the edition");
}

std::span<const Method> methods() {
    return catalogue();
}

const Method* method_named(std::string_view name) {
    const auto all = methods();
    const auto found = std::find_if(all.begin(), all.end(), [&](const Method& one) { return one.name == name; });
    return found == all.end() ? nullptr : &*found;
}

std::string method_names() {
    std::string names;
    for (const Method& one : methods())
        names += (names.empty() ? "" : ", ") + std::string(one.name);
    return names;
}

int least_points_en_837_1(double accuracy_class) {
    return accuracy_class <= 0.6 ? 10 : 5;
}

} // namespace stillmark::metrology
