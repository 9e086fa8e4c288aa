#include "daemon/journal/backup.hpp"

#include "daemon/cli/backup_folder.hpp"
#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/journal/verify.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>
#include <string>

namespace stillmark::cli {

namespace {

struct BackupWords {
    std::string journal, to, key, records, users;
    bool journal_only = false, replace = false;
};

/// One journal alone, in one file.
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

void back_up_all(const BackupWords& words, int& exit_code) {
    const BackupRequest request{words.journal, words.key.empty() ? words.journal + ".key" : words.key,
                                words.records.empty() ? words.journal + ".records" : words.records, words.users,
                                words.to};
    const auto made = make_backup(request);
    if (!made) {
        fmt::print(stderr, "stillmark: {}\n", printable(made.error().message));
        exit_code = code(Exit::wrong_use);
        return;
    }
    const auto& manifest = made->manifest;
    std::uint64_t bytes = 0;
    for (const auto& one : manifest.files)
        bytes += one.content.bytes;
    fmt::print("{}: {} files, {} bytes; the journal up to number {}\n", printable(words.to), manifest.files.size(),
               bytes, manifest.journal_number);
    if (made->told.content_is_as_stored() && made->told.pages.empty()) {
        fmt::print("{}: content identical to what was written; digest at number {}: {}\n", printable(words.journal),
                   manifest.journal_number, manifest.journal_digest);
    } else {
        const auto& findings = made->told.content_is_as_stored() ? made->told.pages : made->told.findings;
        fmt::print("{}: NOT what was written: {}; see stillmark verify\n", printable(words.journal),
                   printable(findings.front()));
        exit_code = code(Exit::answer_is_no);
    }
    fmt::print("SHA-256 of its manifest: {}\nLeft out:\n", made->manifest_sha256);
    for (const auto& one : manifest.left_out)
        fmt::print("  {}: {}; {}\n", printable(one.what), printable(one.why), printable(one.remedy));
}

void restore_all(const RestoreRequest& request, int& exit_code) {
    const auto done = restore_backup(request);
    if (!done) {
        for (const auto& reason : done.error().reasons)
            fmt::print(stderr, "stillmark: {}\n", printable(reason));
        fmt::print(stderr, "stillmark: the back-up was not restored\n");
        exit_code = code(done.error().is_damaged ? Exit::answer_is_no : Exit::wrong_use);
        return;
    }
    fmt::print("{}: the journal of {}, up to number {}, as it was written\n", printable(request.journal),
               printable(done->manifest.made_utc), done->manifest.journal_number);
    fmt::print("{}: {} documents written, {} were there already\n", printable(request.records), done->written,
               done->kept);
    fmt::print("Next:\n");
    fmt::print(
        "  1. The private key is not in a back-up: put it back as {} from its own copy, mode 600. Without one the "
        "service makes a new key; keep {} to verify what was signed until now.\n",
        printable(request.key),
        done->old_public_key.empty() ? "the former public key" : printable(done->old_public_key));
    fmt::print("  2. Give all of these files to the user of the service. The bench file is in {}.\n",
               printable(request.from + "/" + bench_in_backup));
    fmt::print(
        "  3. Start the service. It gives numbers above all that it finds, and names documents that this journal "
        "does not know: stillmark certificates\n");
}

} // namespace

void add_backup(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "backup", "Copies all that a restore needs into a folder, also while a service works, and verifies it");
    const auto words = std::make_shared<BackupWords>();
    command->add_option("JOURNAL", words->journal, "Journal file")->required();
    command->add_option("TO", words->to, "Path of the new folder")->required();
    command->add_option("--key", words->key, "Key of the service, of which the public half is taken; JOURNAL.key");
    command->add_option("--records", words->records, "Folder of the certificates; JOURNAL.records");
    command->add_option("--users", words->users, "Users file of the service");
    auto* alone = command->add_flag("--journal-only", words->journal_only, "Copy the journal alone, to the file TO");
    command->add_flag("--replace", words->replace, "Put the copy in the place of a file that is there")->needs(alone);
    command->callback([words, &exit_code] {
        if (words->journal_only) return back_up(words->journal, words->to, words->replace, exit_code);
        back_up_all(*words, exit_code);
    });
}

void add_restore(CLI::App& app, int& exit_code) {
    CLI::App* command =
        app.add_subcommand("restore", "Puts a back-up in place where its journal is gone; writes over nothing");
    const auto request = std::make_shared<RestoreRequest>();
    command->add_option("FROM", request->from, "Folder that stillmark backup made")->required();
    command->add_option("JOURNAL", request->journal, "Path of the journal")->required();
    command->add_option("--key", request->key, "Key of the service; JOURNAL.key");
    command->add_option("--records", request->records, "Folder of the certificates; JOURNAL.records");
    command->callback([request, &exit_code] {
        if (request->key.empty()) request->key = request->journal + ".key";
        if (request->records.empty()) request->records = request->journal + ".records";
        restore_all(*request, exit_code);
    });
}

} // namespace stillmark::cli
