// The client program. A subcommand lives in a file of its own in daemon/cli/ and gives one function
//     void add_NAME(CLI::App& app, int& exit_code);
// (commands that ask the service take a `const ServiceCall&` between the two). It adds its subcommand and options to
// `app`, does its work in the subcommand's callback, prints for itself, and sets `exit_code` where that is not "done".
// To join, it needs its header below and one line in main.

#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <exception>

namespace {

namespace cli = stillmark::cli;

std::string login_name() {
    for (const char* variable : {"USER", "LOGNAME"})
        if (const char* name = std::getenv(variable); name != nullptr && *name != '\0') return name;
    return {};
}

int run(int argc, char** argv) {
    cli::ServiceCall call{"/run/stillmark/socket", login_name(), stillmark::protocols::now_us()};
    int exit_code = cli::code(cli::Exit::done);
    CLI::App app{"Works with a stillmark service: pressure calibration on a pressure balance", "stillmark"};
    app.footer("Exit: 0 done, 1 the answer is no, 2 wrong use or file, 3 service not reached, 4 internal.");
    app.add_option("--socket", call.socket, "Socket of the service")
        ->envname("STILLMARK_SOCKET")
        ->capture_default_str();
    app.require_subcommand(1);
    app.fallthrough();

    cli::add_follow(app, call, exit_code);
    cli::add_status(app, call, exit_code);
    cli::add_run(app, call, exit_code);
    cli::add_results(app, call, exit_code);
    cli::add_load(app, call, exit_code);
    cli::add_void(app, call, exit_code);
    cli::add_redo(app, call, exit_code);
    cli::add_retry(app, call, exit_code);
    cli::add_surroundings(app, call, exit_code);
    cli::add_health(app, call, exit_code);
    cli::add_certificate(app, call, exit_code);
    cli::add_particulars(app, call, exit_code);
    cli::add_pressure(app, exit_code);
    cli::add_plan(app, exit_code);
    cli::add_evaluate(app, exit_code);
    cli::add_propagate(app, exit_code);
    cli::add_risk(app, exit_code);
    cli::add_replay(app, exit_code);
    cli::add_verify(app, exit_code);
    cli::add_backup(app, exit_code);
    cli::add_restore(app, exit_code);
    cli::add_export(app, exit_code);
    cli::add_users(app, exit_code);

    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? cli::code(cli::Exit::done) : cli::code(cli::Exit::wrong_use);
    }
    return exit_code;
}

} // namespace

int main(int argc, char** argv) {
    try {
        return run(argc, argv);
    } catch (const std::exception& error) {
        static_cast<void>(std::fprintf(stderr, "stillmark: %s\n", error.what()));
        return cli::code(cli::Exit::internal);
    }
}
