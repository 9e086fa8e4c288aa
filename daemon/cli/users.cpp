#include "daemon/people/users.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/password_prompt.hpp"
#include "daemon/people/names.hpp"
#include "daemon/people/password_hash.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::cli {

namespace {

struct UserWords {
    std::string file, name;
    std::vector<std::string> roles;
    bool as_json = false;
};

void refuse(const std::string& words, Exit exit, int& exit_code) {
    fmt::print(stderr, "stillmark users: {}\n", words);
    exit_code = code(exit);
}

void refuse(const people::UsersTrouble& trouble, int& exit_code) {
    refuse(trouble.message, trouble.kind == people::UsersTrouble::Kind::refused ? Exit::answer_is_no : Exit::wrong_use,
           exit_code);
}

void show(const UserWords& words, int& exit_code) {
    const auto users = people::load_users(words.file);
    if (!users) return refuse(users.error(), exit_code);
    if (words.as_json) {
        Json list = Json::array();
        for (const auto& user : users->list)
            list.push_back({{"name", user.name}, {"roles", people::words(user.roles)}});
        return print_json({{"users", list}});
    }
    for (const auto& user : users->list)
        fmt::print("{}: {}\n", user.name, fmt::join(people::words(user.roles), ", "));
    if (users->list.empty()) fmt::print("Nobody stands in it yet.\n");
}

/// The hash of a password that was asked for, or nothing with the reason told.
std::optional<std::string> new_hash(const std::string& name, int& exit_code) {
    std::string trouble;
    auto password = ask_new_password(name, trouble);
    if (!password) {
        refuse(trouble, Exit::wrong_use, exit_code);
        return std::nullopt;
    }
    const auto wrong = people::objection_to_password(name, *password);
    auto hash = wrong ? std::nullopt : people::new_password_hash(*password);
    people::wipe(*password);
    if (wrong)
        refuse(*wrong, Exit::wrong_use, exit_code);
    else if (!hash)
        refuse("the password could not be hashed: the system has no memory or random bytes", Exit::internal, exit_code);
    return hash;
}

void add(const UserWords& words, int& exit_code) {
    const std::string name = people::trimmed(words.name);
    if (const auto wrong = people::objection_to_name(name)) return refuse(*wrong, Exit::wrong_use, exit_code);
    people::Roles roles;
    for (const auto& one : words.roles) {
        const auto role = people::role_of(one);
        if (!role)
            return refuse(fmt::format("\"{}\" is no role; use operator, reviewer or administrator", one),
                          Exit::wrong_use, exit_code);
        roles.insert(*role);
    }
    const auto hash = new_hash(name, exit_code);
    if (!hash) return;
    const auto users = people::change_users(words.file, true, [&name, &roles, &hash](people::Users& known) {
        return people::add_user(known, {name, roles, *hash});
    });
    if (!users) return refuse(users.error(), exit_code);
    fmt::print("{} was added: {}.\n", name, fmt::join(people::words(roles), ", "));
}

void set_password(const UserWords& words, int& exit_code) {
    const std::string name = people::trimmed(words.name);
    // Who is not there is told before anybody types a password.
    const auto before = people::load_users(words.file);
    if (!before) return refuse(before.error(), exit_code);
    people::Users trial = *before;
    if (const auto wrong = people::set_password(trial, name, "")) return refuse(*wrong, Exit::answer_is_no, exit_code);
    const auto hash = new_hash(name, exit_code);
    if (!hash) return;
    const auto users = people::change_users(
        words.file, false, [&name, &hash](people::Users& known) { return people::set_password(known, name, *hash); });
    if (!users) return refuse(users.error(), exit_code);
    fmt::print("{} has a new password.\n", name);
}

void remove(const UserWords& words, int& exit_code) {
    const std::string name = people::trimmed(words.name);
    const auto users = people::change_users(words.file, false,
                                            [&name](people::Users& known) { return people::remove_user(known, name); });
    if (!users) return refuse(users.error(), exit_code);
    fmt::print("{} was removed.\n", name);
}

} // namespace

void add_users(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand("users", "List, add and remove the people who may log in at the console");
    const auto words = std::make_shared<UserWords>();
    command->add_option("FILE", words->file, "Users file")->required();
    command->require_subcommand(1);

    CLI::App* list = command->add_subcommand("list", "Who stands in the file");
    list->add_flag("--json", words->as_json, "Print JSON");
    list->callback([&exit_code, words] { show(*words, exit_code); });

    CLI::App* addition = command->add_subcommand("add", "Add a person; the password is asked for");
    addition->add_option("NAME", words->name, "Name of the person")->required();
    addition->add_option("--role", words->roles, "operator, reviewer or administrator; may be given again")->required();
    addition->callback([&exit_code, words] { add(*words, exit_code); });

    CLI::App* password = command->add_subcommand("password", "Set the password of a person; it is asked for");
    password->add_option("NAME", words->name, "Name of the person")->required();
    password->callback([&exit_code, words] { set_password(*words, exit_code); });

    CLI::App* removal = command->add_subcommand("remove", "Remove a person");
    removal->add_option("NAME", words->name, "Name of the person")->required();
    removal->callback([&exit_code, words] { remove(*words, exit_code); });
}

} // namespace stillmark::cli
