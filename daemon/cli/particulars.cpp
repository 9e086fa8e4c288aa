#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <array>
#include <cstdio>
#include <map>
#include <memory>
#include <string>
#include <vector>

namespace stillmark::cli {

namespace {

struct Particular {
    const char* key;
    const char* option;
    const char* words;
};
constexpr std::array<Particular, 10> particulars{{
    {"customer", "--customer", "Name of the customer"},
    {"customer_country", "--country", "The customer's country, two letters such as DE"},
    {"customer_email", "--email", "The customer's address for mail"},
    {"order", "--order", "The customer's order"},
    {"received", "--received", "Date on which the instrument came, such as 2026-01-15"},
    {"place", "--place", "Where the work was done, if not in the laboratory"},
    {"condition", "--condition", "In what condition the instrument came"},
    {"mounting", "--mounting", "How it was mounted"},
    {"remark", "--remark", "A remark for the certificate"},
    {"worked_by", "--worked-by", "Who worked the balance, where presses carry no name"},
}};

struct ParticularWords {
    std::string run, instrument, by;
    std::map<std::string, std::string> given;
    std::vector<std::string> address;
    bool as_json = false;
};

void state_particulars(const ServiceCall& call, CLI::App& command, const ParticularWords& words, int& exit_code) {
    Json request{{"do", "particulars"}, {"run", words.run}};
    if (!words.instrument.empty()) request["instrument"] = words.instrument;
    if (!words.by.empty()) request["by"] = words.by;
    bool any = false;
    // An empty text takes back what was stated, so what counts is whether the option was there.
    for (const Particular& one : particulars)
        if (command.count(one.option) > 0) {
            request[one.key] = words.given.at(one.key);
            any = true;
        }
    if (command.count("--address") > 0) {
        request["customer_address"] = words.address;
        any = true;
    }
    if (!any) {
        fmt::print(stderr, "stillmark particulars: give at least one, such as --customer \"Name\"\n");
        exit_code = code(Exit::wrong_use);
        return;
    }
    if (!command_service(call, request, words.as_json, exit_code)) return;
    if (words.as_json) return print_json({{"ok", true}});
    fmt::print("Stated for run {}.\n", words.run);
}

/// A command that changes one thing and gives a reason.
struct Reasoned {
    std::string run, certificate, finding, subject, reason, by;
    std::int64_t mark = 0;
    bool as_json = false;
};

} // namespace

void add_particulars(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand("particulars", "State what a certificate says of a run beyond its readings");
    const auto words = std::make_shared<ParticularWords>();
    command->add_option("RUN", words->run, "Name of the run")->required();
    command->add_option("--instrument", words->instrument, "Of this instrument only");
    for (const Particular& one : particulars)
        command->add_option(one.option, words->given[one.key], one.words);
    command->add_option("--address", words->address, "A line of the customer's address; may be given again")
        ->allow_extra_args(false);
    command->add_option("--by", words->by, "Who does it; the login name where not given");
    command->add_flag("--json", words->as_json, "Print the outcome as JSON");
    command->callback([&call, &exit_code, words, command] { state_particulars(call, *command, *words, exit_code); });

    CLI::App* accepting = app.add_subcommand("accept", "Let an unbracketed mark count, as a reviewer");
    const auto accepted = std::make_shared<Reasoned>();
    accepting->add_option("MARK", accepted->mark, "Number of the mark")->required();
    accepting->add_option("--reason", accepted->reason, "Why; kept on record")->required();
    accepting->add_option("--by", accepted->by, "Who does it; the login name where not given");
    accepting->add_flag("--json", accepted->as_json, "Print the outcome as JSON");
    accepting->callback([&call, &exit_code, accepted] {
        Json request{{"do", "accept"}, {"mark", accepted->mark}, {"reason", accepted->reason}};
        if (!accepted->by.empty()) request["by"] = accepted->by;
        if (!command_service(call, request, accepted->as_json, exit_code)) return;
        if (accepted->as_json) return print_json({{"ok", true}});
        fmt::print("Mark {} counts.\n", accepted->mark);
    });

    CLI::App* overriding = app.add_subcommand(
        "override", "Let a draft be signed in spite of one finding, as a reviewer who did not work at the run");
    const auto overridden = std::make_shared<Reasoned>();
    overriding->add_option("CERTIFICATE", overridden->certificate, "Number of the draft")->required();
    overriding->add_option("FINDING", overridden->finding, "Its code, as the draft names it")->required();
    overriding->add_option("SUBJECT", overridden->subject, "What it is about, as the draft names it");
    overriding->add_option("--run", overridden->run, "The run, where both runs have such a finding");
    overriding->add_option("--reason", overridden->reason, "Why; kept on record and printed")->required();
    overriding->add_option("--by", overridden->by, "Who does it; the login name where not given");
    overriding->add_flag("--json", overridden->as_json, "Print the outcome as JSON");
    overriding->callback([&call, &exit_code, overridden] {
        Json request{{"do", "override"},
                     {"certificate", overridden->certificate},
                     {"code", overridden->finding},
                     {"subject", overridden->subject},
                     {"reason", overridden->reason}};
        if (!overridden->run.empty()) request["run"] = overridden->run;
        if (!overridden->by.empty()) request["by"] = overridden->by;
        if (!command_service(call, request, overridden->as_json, exit_code)) return;
        if (overridden->as_json) return print_json({{"ok", true}});
        fmt::print("Overridden: {} {}. Draft {} again: the reason is printed.\n", overridden->finding,
                   overridden->subject, overridden->certificate);
    });

    CLI::App* allowing =
        app.add_subcommand("allow-expiry", "Let a standard whose certificate had expired stand behind a run, as an "
                                           "administrator");
    const auto allowed = std::make_shared<Reasoned>();
    allowing->add_option("RUN", allowed->run, "Name of the run")->required();
    allowing->add_option("CERTIFICATE", allowed->certificate, "The standard's certificate")->required();
    allowing->add_option("--reason", allowed->reason, "Why; kept on record and printed")->required();
    allowing->add_option("--by", allowed->by, "Who does it; the login name where not given");
    allowing->add_flag("--json", allowed->as_json, "Print the outcome as JSON");
    allowing->callback([&call, &exit_code, allowed] {
        Json request{{"do", "allow_expiry"},
                     {"run", allowed->run},
                     {"certificate", allowed->certificate},
                     {"reason", allowed->reason}};
        if (!allowed->by.empty()) request["by"] = allowed->by;
        if (!command_service(call, request, allowed->as_json, exit_code)) return;
        if (allowed->as_json) return print_json({{"ok", true}});
        fmt::print("Certificate {} may stand behind run {}.\n", allowed->certificate, allowed->run);
    });
}

} // namespace stillmark::cli
