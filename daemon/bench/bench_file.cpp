#include "daemon/bench/bench_file.hpp"

#include "daemon/bench/bench_parts.hpp"
#include "daemon/bench/digest.hpp"
#include "daemon/bench/file_place.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace stillmark::bench {

using drivers::Dimension;

const char* word(Direction direction) {
    switch (direction) {
    case Direction::rising:
        return "rising";
    case Direction::falling:
        return "falling";
    case Direction::preload:
        return "preload";
    }
    return "";
}

namespace {

std::optional<std::string> whole_file(const std::filesystem::path& path) {
    std::error_code error;
    if (std::filesystem::is_directory(path, error)) return std::nullopt; // it can be opened, and reads as nothing
    std::ifstream in(path, std::ios::binary);
    if (!in) return std::nullopt;
    std::ostringstream text;
    text << in.rdbuf();
    if (!in && !in.eof()) return std::nullopt;
    return text.str();
}

void read_rig(const Place& root, BenchFile& bench) {
    for (const Place& item : root.items_at("rig")) {
        item.only({"part", "rating"});
        bench.rig.push_back({item.at("part").text(), item.at("rating").over_zero(Dimension::pressure)});
    }
    // An instrument's own rating limits the bench as much as a hose does.
    for (const auto& instrument : bench.instruments)
        bench.rig.push_back({instrument.name, instrument.rating_pa});
    std::stable_sort(bench.rig.begin(), bench.rig.end(),
                     [](const RatedPart& a, const RatedPart& b) { return a.rating_pa < b.rating_pa; });
}

/// How long a reading of the barometer holds, how far it may change, and at which level it is taken.
void read_barometer(const Place& place, StatedSurroundings& to) {
    to.air_pressure_valid_s = to.valid_s;
    if (place.has("air_pressure_valid"))
        to.air_pressure_valid_s = place.at("air_pressure_valid").over_zero(Dimension::time);
    if (place.has("air_pressure_drift")) {
        to.air_pressure_drift_pa = place.at("air_pressure_drift").quantity(Dimension::pressure);
        if (!place.wrong() && !(to.air_pressure_drift_pa > 0))
            place.at("air_pressure_drift")
                .say("no air is as steady as that; give how far its pressure may change during a run, for example "
                     "\"2 hPa\"");
    }
    auto& height = to.air.barometer_height_m;
    if (place.has("barometer_level")) {
        height.value = -read_height(place.at("barometer_level"), " below balance", " above balance");
        constexpr double farthest_m = 50; // a column of air of its own weather is no correction any more
        if (!place.wrong() && std::abs(height.value) > farthest_m)
            place.at("barometer_level")
                .say(fmt::format(
                    "{:g} m from the balance is another room's air; use a barometer within 50 m of its level",
                    std::abs(height.value)));
    } else if (place.has("barometer_level_u")) {
        place.at("barometer_level_u").say("means nothing without \"barometer_level\"; give both");
    }
    height.u = place.size_or("barometer_level_u", Dimension::length, 0);
}

void read_surroundings(const Place& root, BenchFile& bench) {
    const Place place = root.at("surroundings");
    if (place.wrong()) return;
    place.only({"valid", "air_temperature", "air_pressure", "humidity", "piston_temperature", "allowed",
                "air_pressure_valid", "air_pressure_drift", "barometer_level", "barometer_level_u"});
    auto& to = bench.surroundings;
    to.valid_s = place.at("valid").over_zero(Dimension::time);
    to.air.temperature_c = place.at("air_temperature").uncertain(Dimension::temperature);
    to.air.pressure_pa = place.at("air_pressure").uncertain(Dimension::pressure);
    to.air.humidity = place.at("humidity").uncertain(Dimension::fraction);
    to.piston_temperature_c = place.at("piston_temperature").uncertain(Dimension::temperature);
    if (place.has("allowed")) {
        const Place allowed = place.at("allowed");
        allowed.only({"lowest", "highest", "drift"});
        to.lowest_c = allowed.quantity_or("lowest", Dimension::temperature, to.lowest_c);
        to.highest_c = allowed.quantity_or("highest", Dimension::temperature, to.highest_c);
        to.drift_k = allowed.quantity_or("drift", Dimension::temperature_interval, to.drift_k);
        if (!place.wrong() && !(to.lowest_c < to.highest_c))
            allowed.say(fmt::format("no temperature lies above {:g} degC and below {:g} degC; give \"lowest\" below "
                                    "\"highest\"",
                                    to.lowest_c, to.highest_c));
        if (!place.wrong() && !(to.drift_k > 0))
            allowed.at("drift").say("no air is as steady as that; give how far it may change during a run, for "
                                    "example \"1 K\"");
    }
    read_barometer(place, to);
    if (const auto mistake = surroundings_objection(to.air); !place.wrong() && !mistake.empty()) place.say(mistake);
}

BenchFile read_bench(const Place& root, BenchFile bench, const MachineChecks& machine) {
    root.only({"stillmark", "name", "laboratory", "site", "balance", "masses", "rig", "surroundings", "buses",
               "instruments", "sequences", "checks", "capability", "standards", "records"});
    if (const Place version = root.at("stillmark"); !root.wrong() && version.node() != 1)
        version.say(
            fmt::format("{} is no version of the bench file that this build knows; write 1", version.node().dump()));
    bench.name = root.at("name").text();
    bench.laboratory = root.at("laboratory").text();
    if (root.wrong()) return bench;
    read_site(root.at("site"), bench, machine);
    if (!root.wrong()) read_balance(root.at("balance"), bench);
    if (!root.wrong()) read_masses(root.at("masses"), bench);
    if (!root.wrong()) read_surroundings(root, bench);
    if (!root.wrong()) read_buses(root, bench);
    if (!root.wrong()) read_instruments(root, bench);
    if (!root.wrong()) read_rig(root, bench);
    if (!root.wrong()) read_sequences(root, bench);
    if (!root.wrong()) read_checks(root, bench);
    if (!root.wrong()) read_capability(root, bench);
    if (!root.wrong()) read_standards(root, bench);
    if (!root.wrong()) read_records(root, bench);
    return bench;
}

/// Which profiles a bench names, by the instrument that does, so that their texts can be fetched before it is read.
std::map<std::size_t, std::string> profile_files(const nlohmann::json& root) {
    std::map<std::size_t, std::string> names;
    if (!root.is_object() || !root.contains("instruments") || !root["instruments"].is_array()) return names;
    const auto& instruments = root["instruments"];
    for (std::size_t i = 0; i < instruments.size(); ++i)
        if (instruments[i].is_object() && instruments[i].contains("profile") && instruments[i]["profile"].is_string())
            names[i] = instruments[i]["profile"].get<std::string>();
    return names;
}

} // namespace

drivers::FileResult<BenchFile> bench_from_texts(const std::string& path, const std::string& text,
                                                const std::map<std::string, std::string>& profile_texts,
                                                const LoadsBySequence& planned, const MachineChecks& machine) {
    Finding finding{std::filesystem::path(path).filename().string(), {}};
    const auto root = parse_json(text, finding);
    if (!root) return drivers::FileError{*finding.first};
    BenchFile bench;
    bench.path = path;
    bench.text = text;
    bench.profile_texts = profile_texts;
    bench.planned_loads = planned;
    std::string everything = text;
    for (const auto& [name, profile] : profile_texts)
        everything.append(1, '\0').append(name).append(1, '\0').append(profile);
    bench.revision = digest(everything);
    bench = read_bench(Place(*root, "", finding), std::move(bench), machine);
    if (finding.any()) return drivers::FileError{*finding.first};
    return bench;
}

drivers::FileResult<BenchFile> load_bench(const std::string& path, const std::string& profile_folder,
                                          const MachineChecks& machine) {
    const auto text = whole_file(path);
    if (!text) return drivers::FileError{fmt::format("{}: cannot be read; check the path and the permissions", path)};
    Finding finding{std::filesystem::path(path).filename().string(), {}};
    const auto root = parse_json(*text, finding);
    if (!root) return drivers::FileError{*finding.first};
    std::map<std::string, std::string> profiles;
    for (const auto& [index, name] : profile_files(*root)) {
        auto profile = whole_file(std::filesystem::path(path).parent_path() / name);
        if (!profile) profile = whole_file(std::filesystem::path(profile_folder) / name);
        if (!profile)
            return drivers::FileError{fmt::format(
                "{}: instruments[{}].profile: \"{}\" is neither beside the bench file nor in {}; put it there",
                finding.file, index, name, profile_folder)};
        profiles[name] = *profile;
    }
    return bench_from_texts(path, *text, profiles, {}, machine);
}

} // namespace stillmark::bench
