#include "simulator/answer_reading.hpp"
#include "simulator/bench_copy.hpp"
#include "simulator/judge.hpp"
#include "simulator/mistake.hpp"
#include "simulator/operator.hpp"
#include "simulator/truth_log.hpp"
#include "simulator/wires.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <atomic>
#include <csignal>
#include <cstdio>
#include <fstream>
#include <memory>
#include <thread>

namespace sim = stillmark::simulator;

namespace {

/// As every program of the house: the man pages list them.
enum Exit { done = 0, no = 1, wrong_use = 2, unreachable = 3, internal = 4 };

struct Options {
    std::string scenario;
    sim::ScenarioChanges changes;
    std::string socket;
    std::string log;
    std::string actions;
    std::string summary;
    std::string results;
    std::string bench;
    std::string folder;
    int least_marks = 1;
    bool quiet = false;
};

void write_json(const std::string& path, const nlohmann::json& what) {
    if (path.empty()) return;
    std::ofstream file(path);
    file << what.dump(2) << '\n';
    if (!file.flush()) throw sim::Mistake(path + ": cannot be written");
}

nlohmann::json read_results(const std::string& path) {
    const auto json = sim::read_json_file(path);
    if (!json.is_object() || !json.contains("marks")) throw sim::Mistake(path + ": has no list of marks");
    return sim::list_in(json, "marks");
}

nlohmann::json truth_summary(const sim::Scenario& scenario) {
    const auto& truth = scenario.truth;
    nlohmann::json ranges = nlohmann::json::object();
    for (const auto& range : truth.ranges)
        ranges[range.name] = {
            {"area_m2", range.area_m2}, {"distortion_per_pa", range.distortion_per_pa}, {"level_m", range.level_m}};
    nlohmann::json discs = nlohmann::json::object();
    for (const auto& [id, disc] : truth.discs)
        discs[id] = {{"mass_kg", disc.mass_kg}, {"density_kg_m3", disc.density_kg_m3}};
    return {{"gravity_m_s2", truth.gravity_m_s2},
            {"air_density_kg_m3", truth.air_density_kg_m3},
            {"piston_temperature_c", truth.piston_temperature_c},
            {"liquid_density_kg_m3", truth.liquid.density_kg_m3},
            {"ranges", ranges},
            {"discs", discs}};
}

/// Waits for SIGTERM or SIGINT on its own thread; they are blocked everywhere else.
class StopSignal {
  public:
    StopSignal() : thread_([this](const std::stop_token& over) { watch(over); }) {}
    const std::atomic<bool>& came() const { return came_; }
    void wait() const { came_.wait(false); }

  private:
    void watch(const std::stop_token& over) {
        sigset_t signals;
        sigemptyset(&signals);
        sigaddset(&signals, SIGTERM);
        sigaddset(&signals, SIGINT);
        const timespec a_while{0, 100000000};
        while (!over.stop_requested()) {
            if (sigtimedwait(&signals, nullptr, &a_while) < 0) continue;
            came_ = true;
            came_.notify_all();
            return;
        }
    }
    std::atomic<bool> came_{false};
    std::jthread thread_;
};

int run(const Options& options) {
    const auto scenario = sim::read_scenario(options.scenario, options.changes);
    if (scenario.plan.works && options.socket.empty())
        throw sim::Mistake("--socket: the operator must be told where the service listens; or use --no-operator");
    const sim::Micros began_us = sim::now_us();
    sim::Rig rig(scenario, began_us);
    sim::Wires wires(rig);
    std::unique_ptr<sim::TruthLog> log;
    if (!options.log.empty()) log = std::make_unique<sim::TruthLog>(rig, options.log);
    sim::Notes notes(options.actions);
    sim::Progress progress(!options.quiet);
    const StopSignal stop;
    progress.say(fmt::format("{} is served; seed {}, time factor {:g}", scenario.bench_name, scenario.seed,
                             scenario.time_factor));

    sim::OperatorOutcome outcome;
    if (scenario.plan.works) {
        sim::Operator person(rig, options.socket, notes, progress);
        outcome = person.work(stop.came());
    } else {
        stop.wait();
        outcome.finished = true;
    }
    write_json(options.results, {{"marks", outcome.results.is_array() ? outcome.results : nlohmann::json::array()}});
    write_json(options.summary, {{"bench", scenario.bench_name},
                                 {"seed", scenario.seed},
                                 {"time_factor", scenario.time_factor},
                                 {"began_us", began_us},
                                 {"ended_us", sim::now_us()},
                                 {"finished", outcome.finished},
                                 {"words", outcome.words},
                                 {"run", outcome.run},
                                 {"lifts", outcome.lifts},
                                 {"buses", wires.counts()},
                                 {"truth", truth_summary(scenario)}});
    if (outcome.finished) {
        progress.say("the run is finished");
        return done;
    }
    fmt::print(stderr, "stillmark-sim: {}\n", outcome.words);
    return no;
}

int judge(const Options& options) {
    const auto results = read_results(options.results);
    const sim::TrueCourse course(options.log);
    std::vector<sim::Expectation> expectations;
    if (!options.scenario.empty()) expectations = sim::read_scenario(options.scenario, options.changes).expectations;
    const auto judgement = sim::judge(results, course, expectations, options.least_marks);
    fmt::print("Against the hidden truth: {} marks stand, {} within 2 u, the worst {:.2f} u", judgement.marks,
               judgement.within_2u, judgement.worst_in_u);
    fmt::print("{}\n", judgement.worst.empty() ? "." : fmt::format(": {}.", judgement.worst));
    for (const auto& expected : expectations)
        fmt::print("Expected at point {} {}: {}.\n", expected.point, expected.direction,
                   expected.flag.empty() ? expected.status : expected.flag);
    for (const auto& fault : judgement.faults)
        fmt::print("NOT GOOD: {}\n", fault);
    return judgement.good() ? done : no;
}

} // namespace

int main(int argc, char** argv) {
    CLI::App app{"A pressure calibration bench without hardware: its physics, its wires, and a person who works it."};
    Options options;
    app.add_option("SCENARIO", options.scenario, "the scenario file");
    app.add_option("--bench", options.changes.bench, "the bench file, in place of the one that the scenario names");
    app.add_option("--profiles", options.changes.profiles, "the folder of profiles, in place of the scenario's");
    app.add_option("--seed", options.changes.seed, "which truth is drawn, in place of the scenario's");
    app.add_option("--time-factor", options.changes.time_factor,
                   "how much hydraulics, gauges and operator are hurried");
    app.add_option("--socket", options.socket, "the service's local socket, for the operator");
    app.add_option("--log", options.log, "where the truth of all times is written (comma-separated values)");
    app.add_option("--actions", options.actions, "where the operator's doings are noted (JSON lines, appended)");
    app.add_option("--summary", options.summary, "where a summary is written at the end (JSON)");
    app.add_option("--results", options.results, "where the service's results are written at the end (JSON)");
    app.add_option("--wrong-word-order", options.changes.wrong_word_order,
                   "an instrument whose words travel in the wrong order");
    app.add_flag("--no-operator", options.changes.no_operator, "serve the wires until SIGTERM; nobody works the bench");
    app.add_flag("--quiet", options.quiet, "no progress lines");

    auto* judging = app.add_subcommand("judge", "compare results with the hidden truth; exit 1 where they do not hold");
    judging->add_option("--log", options.log)->required();
    judging->add_option("--results", options.results)->required();
    judging->add_option("--expect", options.scenario, "the scenario whose expectations must be met");
    judging->add_option("--bench", options.changes.bench);
    judging->add_option("--profiles", options.changes.profiles);
    judging->add_option("--least-marks", options.least_marks);
    auto* table = app.add_subcommand("table", "print results as a table");
    table->add_option("--results", options.results)->required();
    auto* copying = app.add_subcommand("copy-bench", "copy a bench file into a folder, with free ports");
    copying->add_option("BENCH", options.bench)->required();
    copying->add_option("FOLDER", options.folder)->required();
    app.require_subcommand(0, 1);
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? done : wrong_use;
    }

    // Every thread inherits the blocked signals; only StopSignal takes them.
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGTERM);
    sigaddset(&signals, SIGINT);
    pthread_sigmask(SIG_BLOCK, &signals, nullptr);
    try {
        if (judging->parsed()) return judge(options);
        if (table->parsed()) {
            fmt::print("{}", sim::results_table(read_results(options.results)));
            return done;
        }
        if (copying->parsed()) {
            fmt::print("{}\n", sim::copy_bench_with_free_ports(options.bench, options.folder));
            return done;
        }
        if (options.scenario.empty()) throw sim::Mistake("a scenario file is missing; see --help");
        return run(options);
    } catch (const sim::Mistake& mistake) {
        fmt::print(stderr, "stillmark-sim: {}\n", mistake.what());
        return wrong_use;
    } catch (const std::exception& error) {
        fmt::print(stderr, "stillmark-sim: {}\n", error.what());
        return internal;
    }
}
