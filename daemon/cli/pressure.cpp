#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/pressure_report.hpp"
#include "daemon/cli/pressure_trials.hpp"
#include "daemon/cli/surroundings_options.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <memory>
#include <optional>

namespace stillmark::cli {

namespace {

struct PressureRequest {
    std::string bench;
    std::string profiles;
    std::string range;
    std::string discs;
    std::string instrument;
    SurroundingsOptions surroundings;
    bool as_json = false;
    bool monte_carlo = false;
    std::uint64_t seed = 1;
};

struct Mistake {
    std::string words;
};
template <class T>
using Found = boost::system::result<T, Mistake>;
[[noreturn, maybe_unused]] void throw_exception_from_error(const Mistake& mistake, const boost::source_location&) {
    throw std::runtime_error(mistake.words);
}

const bench::Instrument* instrument_of(const PressureRequest& request, const bench::BenchFile& bench) {
    for (const auto& one : bench.instruments)
        if (request.instrument.empty() || one.name == request.instrument) return &one;
    return nullptr;
}

Found<metrology::ReferenceInputs> inputs(const PressureRequest& request, const bench::BenchFile& bench) {
    const auto& ranges = bench.balance.ranges;
    const auto range =
        std::find_if(ranges.begin(), ranges.end(), [&](const auto& one) { return one.physics.name == request.range; });
    if (range == ranges.end()) {
        std::string names;
        for (const auto& one : ranges)
            names += (names.empty() ? "" : ", ") + one.physics.name;
        return Mistake{fmt::format("--range: the balance has no range \"{}\"; it has: {}", request.range, names)};
    }
    std::vector<std::size_t> discs;
    for (const auto& id : split_list(request.discs)) {
        const auto disc =
            std::find_if(bench.discs.begin(), bench.discs.end(), [&](const auto& one) { return one.piece.name == id; });
        if (disc == bench.discs.end()) return Mistake{fmt::format("--discs: no disc has the id \"{}\"", id)};
        const auto index = static_cast<std::size_t>(disc - bench.discs.begin());
        if (std::find(discs.begin(), discs.end(), index) != discs.end())
            return Mistake{fmt::format("--discs: \"{}\" stands twice; there is one of it", id)};
        discs.push_back(index);
    }
    const bench::Instrument* instrument = instrument_of(request, bench);
    if (instrument == nullptr) return Mistake{fmt::format("--instrument: none is named \"{}\"", request.instrument)};

    auto air = bench.surroundings.air;
    auto piston = bench.surroundings.piston_temperature_c;
    if (auto mistake = request.surroundings.take(air, piston); !mistake.empty()) return Mistake{std::move(mistake)};
    return bench::reference_inputs(bench, static_cast<std::size_t>(range - ranges.begin()), discs, air, piston,
                                   instrument);
}

void pressure(const PressureRequest& request, int& exit_code) {
    const auto refuse = [&exit_code](const std::string& words) {
        fmt::print(stderr, "stillmark: {}\n", words);
        exit_code = code(Exit::wrong_use);
    };
    const auto bench = bench::load_bench(request.bench, request.profiles);
    if (!bench) return refuse(bench.error().message);
    const auto in = inputs(request, *bench);
    if (!in) return refuse(in.error().words);
    const auto result = metrology::reference_pressure(*in);
    // Ratings count from the air, or as the instrument does; an absolute reading is no load on a hose.
    const double in_the_rig_pa = in->counted_from == in->mode ? result.at_instrument_pa : result.at_balance_pa;
    if (const auto& weakest = bench->weakest(); in_the_rig_pa > weakest.rating_pa)
        return refuse(fmt::format("that load makes {:.1f} bar, above the lowest rating on the bench ({}, {:g} bar)",
                                  in_the_rig_pa / 1e5, weakest.part, weakest.rating_pa / 1e5));
    std::optional<metrology::ReferenceTrials> trials;
    if (request.monte_carlo) trials = try_pressure(*in, request.seed);
    const PressureReport report{&*bench, request.range, instrument_of(request, *bench),
                                &*in,    &result,       bench::capability_floor_pa(*bench, result.at_instrument_pa)};
    if (request.as_json) {
        auto all = report_json(report);
        if (trials) all["monte_carlo"] = trials_json(*trials, request.seed);
        fmt::print("{}\n", all.dump(2));
    } else {
        print_report(report);
        if (trials) print_trials(*trials, request.seed);
    }
}

} // namespace

void add_pressure(CLI::App& app, int& exit_code) {
    CLI::App* command =
        app.add_subcommand("pressure", "The pressure that a load makes, with every correction; needs no service");
    const auto request = std::make_shared<PressureRequest>();
    command->add_option("BENCH", request->bench, "Bench file")->required();
    command->add_option("--range", request->range, "Range of the balance")->required();
    command->add_option("--discs", request->discs, "Ids of the discs, with commas; empty for the floating parts alone")
        ->required();
    command->add_option("--instrument", request->instrument,
                        "Instrument at whose level the pressure is told (default: the bench's first)");
    request->surroundings.add_to(*command);
    command->add_option("--profiles", request->profiles, "Folder of instrument profiles")
        ->envname("STILLMARK_PROFILES")
        ->default_str(STILLMARK_PROFILE_FOLDER);
    command->add_flag("--json", request->as_json, "Print JSON");
    command->add_flag("--monte-carlo", request->monte_carlo,
                      "Propagate by trials as well, and judge the budget by them");
    command->add_option("--seed", request->seed, "Seed of the trials: the same seed gives the same digits")
        ->capture_default_str();
    request->profiles = STILLMARK_PROFILE_FOLDER;
    command->callback([request, &exit_code] { pressure(*request, exit_code); });
}

} // namespace stillmark::cli
