#include "daemon/journal/backup.hpp"

#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/journal/verify.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>
#include <string>

namespace stillmark::cli {

namespace {

void back_up(const std::string& journal, const std::string& to, bool replace, int& exit_code) {
    const auto made = journal::back_up(journal, to, replace);
    if (!made) {
        fmt::print(stderr, "stillmark: {}\n", made.error().message);
        exit_code = code(Exit::wrong_use);
        return;
    }
    fmt::print("{}: a copy of {} up to number {}, {} bytes\n", to, journal, made->last_number, made->bytes);
    const auto told = journal::verify(to, {}, journal::Pages::every_one);
    if (!told) {
        fmt::print("{}\n", told.error().message);
        return;
    }
    if (told->content_is_as_stored() && told->pages.empty()) {
        fmt::print("{}: content identical to what was written; digest at number {}: {}\n", to, told->head.last,
                   seal::hex(told->head.digest));
        return;
    }
    const auto& findings = told->content_is_as_stored() ? told->pages : told->findings;
    fmt::print("{}: NOT what was written: {}; see stillmark verify\n", to, findings.front());
    exit_code = code(Exit::answer_is_no);
}

} // namespace

void add_backup(CLI::App& app, int& exit_code) {
    CLI::App* command =
        app.add_subcommand("backup", "Copies a journal, also while a service writes it, and verifies the copy");
    const auto journal = std::make_shared<std::string>();
    const auto to = std::make_shared<std::string>();
    const auto replace = std::make_shared<bool>(false);
    command->add_option("JOURNAL", *journal, "Journal file")->required();
    command->add_option("TO", *to, "Path of the copy")->required();
    command->add_flag("--replace", *replace, "Put the copy in the place of a file that is there");
    command->callback([journal, to, replace, &exit_code] { back_up(*journal, *to, *replace, exit_code); });
}

} // namespace stillmark::cli
