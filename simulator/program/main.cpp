#include "simulator/mistake.hpp"
#include "simulator/truth_log.hpp"
#include "simulator/wires.hpp"

#include <CLI/CLI.hpp>

#include <csignal>
#include <iostream>
#include <memory>

namespace sim = stillmark::simulator;

int main(int argc, char** argv) {
    CLI::App app{"A pressure calibration bench without hardware"};
    std::string scenario_path, log_path;
    sim::ScenarioChanges changes;
    app.add_option("scenario", scenario_path)->required();
    app.add_option("--bench", changes.bench);
    app.add_option("--profiles", changes.profiles);
    app.add_option("--log", log_path);
    CLI11_PARSE(app, argc, argv);
    // Every thread inherits the blocked signals; only the wait below takes them.
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    pthread_sigmask(SIG_BLOCK, &set, nullptr);
    try {
        const auto scenario = sim::read_scenario(scenario_path, changes);
        sim::Rig rig(scenario, sim::now_us());
        sim::Wires wires(rig);
        std::unique_ptr<sim::TruthLog> log;
        if (!log_path.empty()) log = std::make_unique<sim::TruthLog>(rig, log_path);
        int sig = 0;
        sigwait(&set, &sig);
    } catch (const sim::Mistake& mistake) {
        std::cerr << mistake.what() << '\n';
        return 2;
    }
    return 0;
}
