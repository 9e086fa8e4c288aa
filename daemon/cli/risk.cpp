#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/evaluation_asked.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/metrology/evaluation/acceptance_risks.hpp"
#include "drivers/units.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <cmath>
#include <memory>
#include <vector>

namespace stillmark::cli {

namespace {

/// As typed: pressures with their units.
struct RiskRequest {
    std::string permissible, acceptance, u, process_sd, process_mean;
    bool as_json = false;
};

class RiskOptions {
  public:
    /// The pressure of an option in pascals; what is wrong with it is kept.
    double pressure(const char* option, const std::string& text) {
        const auto value = drivers::parse_quantity(text, drivers::Dimension::pressure);
        if (value) return *value;
        mistakes.push_back(fmt::format("{}: {}", option, value.error().message));
        return 1;
    }
    double over_zero(const char* option, const std::string& text) {
        const double value = pressure(option, text);
        if (!(value > 0))
            mistakes.push_back(fmt::format("{}: \"{}\" is not over zero; give a size", option, printable(text)));
        return value;
    }

    std::vector<std::string> mistakes;
};

void print_risks(const metrology::AcceptanceRisks& risks) {
    const auto line = [](const char* what, double part) {
        fmt::print("{}{}\n", fill(what, 64), std::isfinite(part) ? fmt::format("{:.4g} %", part * 100) : "-");
    };
    line("Conforming, of all instruments of the process", risks.conforming);
    line("Accepted, of all", risks.accepted);
    line("Consumer's risk: accepted and not conforming, of all", risks.consumers);
    line("Producer's risk: rejected and conforming, of all", risks.producers);
    line("Not conforming, of those accepted", risks.of_accepted);
    line("Conforming, of those rejected", risks.of_rejected);
    line("Specific risk of a deviation measured at the acceptance limit", risks.specific_at_limit);
}

void state_risks(const RiskRequest& request, int& exit_code) {
    RiskOptions options;
    const double permissible = options.over_zero("--permissible", request.permissible);
    const double accepted =
        request.acceptance.empty() ? permissible : options.over_zero("--acceptance", request.acceptance);
    const double u = options.over_zero("--u", request.u);
    metrology::Process process;
    process.sd = options.over_zero("--process-sd", request.process_sd);
    if (!request.process_mean.empty()) process.mean = options.pressure("--process-mean", request.process_mean);
    for (const auto& mistake : options.mistakes)
        fmt::print(stderr, "stillmark: {}\n", mistake);
    if (!options.mistakes.empty()) {
        exit_code = code(Exit::wrong_use);
        return;
    }
    const auto risks = metrology::acceptance_risks(process, u, permissible, accepted);
    if (request.as_json)
        fmt::print("{}\n", acceptance_risks_json(risks).dump(2));
    else
        print_risks(risks);
}

} // namespace

void add_risk(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "risk", "Consumer's and producer's risk of an acceptance limit (JCGM 106); needs no service and no bench");
    const auto request = std::make_shared<RiskRequest>();
    command->add_option("--permissible", request->permissible, "Permissible error, either way, such as \"0.1 bar\"")
        ->required();
    command->add_option("--u", request->u, "Standard uncertainty of a measured deviation")->required();
    command
        ->add_option("--process-sd", request->process_sd,
                     "Standard deviation of the instruments' deviations before they are measured")
        ->required();
    command->add_option("--process-mean", request->process_mean, "Their mean; 0 where it is not given");
    command->add_option("--acceptance", request->acceptance,
                        "Acceptance limit, either way; the permissible error where it is not given");
    command->add_flag("--json", request->as_json, "Print JSON");
    command->callback([request, &exit_code] { state_risks(*request, exit_code); });
}

} // namespace stillmark::cli
