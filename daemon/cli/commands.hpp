#pragma once

#include "daemon/cli/service_call.hpp"

#include <CLI/App.hpp>

namespace stillmark::cli {

// One function a subcommand, each in a file of its own: it adds the subcommand, which sets `exit_code` when it runs.
// `app`, `call` and `exit_code` must outlive the parsing.

void add_status(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_run(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_results(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_follow(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_load(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_void(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_redo(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_retry(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_surroundings(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_health(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_certificate(CLI::App& app, const ServiceCall& call, int& exit_code);
void add_particulars(CLI::App& app, const ServiceCall& call, int& exit_code);

// These need no service.
void add_pressure(CLI::App& app, int& exit_code);
void add_plan(CLI::App& app, int& exit_code);
void add_evaluate(CLI::App& app, int& exit_code);
void add_propagate(CLI::App& app, int& exit_code);
void add_risk(CLI::App& app, int& exit_code);
void add_replay(CLI::App& app, int& exit_code);
void add_verify(CLI::App& app, int& exit_code);
void add_backup(CLI::App& app, int& exit_code);
void add_restore(CLI::App& app, int& exit_code);
void add_export(CLI::App& app, int& exit_code);
void add_users(CLI::App& app, int& exit_code);

} // namespace stillmark::cli
