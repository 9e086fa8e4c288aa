#include "daemon/cli/backup_folder.hpp"

#include "daemon/cli/verify_documents.hpp"
#include "daemon/decider/recovery.hpp"
#include "daemon/journal/backup.hpp"
#include "daemon/journal/memory.hpp"
#include "daemon/records/issued_documents.hpp"
#include "daemon/seal/key.hpp"
#include "daemon/seal/whole_file.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

namespace stillmark::cli {

namespace {

namespace fs = std::filesystem;

constexpr int most_looks_for_documents = 3;

std::string utc_now_text() {
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}",
                       std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now()));
}

/// The folder on its way: beside its goal, gone again unless it gets that name.
class BackupInTheMaking {
  public:
    explicit BackupInTheMaking(const BackupRequest& request) : request_(request), folder_(request.to + ".XXXXXX") {
        if (::mkdtemp(folder_.data()) == nullptr) folder_.clear();
    }
    ~BackupInTheMaking() {
        std::error_code ignored;
        if (!folder_.empty()) fs::remove_all(folder_, ignored);
    }
    BackupInTheMaking(const BackupInTheMaking&) = delete;
    BackupInTheMaking& operator=(const BackupInTheMaking&) = delete;

    journal::JournalResult<BackupMade> make() {
        if (folder_.empty())
            return journal::JournalError{
                fmt::format("{}: no folder can be made there ({}); give a place where this user "
                            "may write",
                            request_.to, std::strerror(errno))};
        if (auto done = take_journal(); !done) return done.error();
        if (auto done = take_records(); !done) return done.error();
        if (auto done = take_bench(); !done) return done.error();
        if (auto done = take_key_and_users(); !done) return done.error();
        // The last of all: it knows at least what the journal and the documents know.
        const auto memory = journal::memory_path(request_.key);
        if (auto done = take(memory, memory_in_backup, 0600); !done) {
            std::error_code error;
            if (fs::exists(memory, error)) return done.error();
            leave_out(memory, "there is none yet", "nothing: a service that starts makes it");
        }
        return finish();
    }

  private:
    std::string inside(const std::string& path) const { return (fs::path(folder_) / path).string(); }
    void leave_out(const std::string& what, const std::string& why, const std::string& remedy) {
        made_.manifest.left_out.push_back({what, why, remedy});
    }

    /// A copy of a file at this place of the back-up.
    journal::JournalResult<void> take(const std::string& from, const std::string& to, unsigned mode) {
        std::error_code error;
        fs::create_directories(fs::path(inside(to)).parent_path(), error);
        const auto copied = seal::copy_file(from, inside(to), mode);
        if (!copied) return journal::JournalError{copied.error().message};
        made_.manifest.files.push_back({to, *copied});
        return {};
    }
    journal::JournalResult<void> put(const std::string& text, const std::string& to) {
        std::error_code error;
        fs::create_directories(fs::path(inside(to)).parent_path(), error);
        const auto written =
            seal::write_whole_file(inside(to), text, seal::ReadableBy::everybody, seal::Present::is_kept);
        if (!written) return journal::JournalError{written.error().message};
        made_.manifest.files.push_back({to, {text.size(), seal::sha256(text)}});
        return {};
    }

    journal::JournalResult<void> take_journal() {
        const auto copied = journal::back_up(request_.journal, inside(journal_in_backup), false);
        if (!copied) return copied.error();
        auto told = journal::verify(inside(journal_in_backup), {}, journal::Pages::every_one);
        if (!told) return told.error();
        made_.told = std::move(*told);
        made_.manifest.journal_number = made_.told.head.last;
        made_.manifest.journal_digest = seal::hex(made_.told.head.digest);
        auto recovered = decider::recover(inside(journal_in_backup));
        if (!recovered) return recovered.error();
        bench_ = recovered->state.bench;
        auto issued = issued_in(inside(journal_in_backup));
        if (!issued) return issued.error();
        issued_ = std::move(*issued);
        const auto content = seal::content_of(inside(journal_in_backup));
        if (!content) return journal::JournalError{content.error().message};
        made_.manifest.files.push_back({journal_in_backup, *content});
        return {};
    }

    /// Documents move while a service works: a signed certificate gets its name, an old edition goes. So this looks
    /// again where one is missing that the journal names.
    journal::JournalResult<void> take_records() {
        for (int look = 0; look < most_looks_for_documents; ++look) {
            const auto folders = records::certificate_folders(request_.records);
            if (!folders) return journal::JournalError{folders.error().message};
            for (const auto& folder : *folders)
                if (auto done = take_folder(folder.name); !done) return done.error();
            if (missing_documents().empty()) break;
        }
        for (const auto& number : missing_documents())
            leave_out(fmt::format("the documents of certificate {}", number),
                      fmt::format("they are not in {}", request_.records), "find them, and put them there");
        return {};
    }

    journal::JournalResult<void> take_folder(const std::string& name) {
        std::error_code error;
        fs::recursive_directory_iterator at(fs::path(request_.records) / name, error);
        for (; !error && at != fs::recursive_directory_iterator(); at.increment(error)) {
            const auto below = fs::path(records_in_backup) / at->path().lexically_relative(request_.records);
            std::error_code ignored;
            if (fs::exists(inside(below.string()), ignored) || at->is_directory(ignored)) continue;
            if (!fs::is_regular_file(at->symlink_status(ignored))) {
                leave_out(at->path().string(), "it is no file", "copy by hand what it stands for");
                continue;
            }
            auto done = take(at->path().string(), below.string(), 0644);
            // It has got another name meanwhile; the next look finds it there.
            if (!done && fs::exists(at->path(), ignored)) return done.error();
        }
        std::error_code ignored;
        const auto folder = fs::path(request_.records) / name;
        if (error && fs::exists(folder, ignored))
            return journal::JournalError{
                fmt::format("{}: cannot be read ({}); check the permissions", folder.string(), error.message())};
        return {};
    }

    std::vector<std::string> missing_documents() const {
        std::vector<std::string> missing;
        const auto here = inside(records_in_backup);
        for (const auto& [number, signature] : issued_.signatures) {
            if (!records::folder_named(here, number).has_documents &&
                !records::folder_named(here, number + ".unrecorded").has_documents)
                missing.push_back(number);
        }
        return missing;
    }

    /// The bench file and its profiles as the journal has them: those that the service works with.
    journal::JournalResult<void> take_bench() {
        if (bench_ == nullptr) return {};
        const auto& bench = *bench_;
        const auto below = [](const std::string& name) { return (fs::path(bench_in_backup) / name).string(); };
        if (auto done = put(bench.text, below(fs::path(bench.path).filename().string())); !done) return done;
        for (const auto& [name, text] : bench.profile_texts) {
            if (!stays_below(name))
                leave_out(fmt::format("the profile {}", name), "it is not below the folder of the bench file",
                          "nothing: the journal has its text");
            else if (auto done = put(text, below(name)); !done)
                return done;
        }
        const auto& logo = bench.records.logo;
        if (logo.empty()) return {};
        const auto path = (fs::path(bench.path).parent_path() / logo).string();
        auto done = stays_below(logo) ? take(path, below(logo), 0644)
                                      : journal::JournalError{path + ": is not below the folder of the bench file"};
        if (!done) leave_out("the logo", done.error().message, "copy it by hand");
        return {};
    }

    journal::JournalResult<void> take_key_and_users() {
        const auto public_path = request_.key + ".pub";
        const auto key = seal::PublicKey::load(public_path);
        if (key) {
            made_.manifest.key_fingerprint = key->fingerprint();
            if (auto done = take(public_path, key_in_backup, 0644); !done) return done;
        } else {
            leave_out(public_path, "it cannot be read", "give the key that the service signs with: --key FILE");
        }
        leave_out(
            request_.key, "who has this private key signs as this laboratory, so it is in no back-up",
            "keep one copy of it apart, in a safe place; it does not change. Without it a restored service makes a "
            "new key, and what was signed before is verified with key.pub");
        if (request_.users.empty()) {
            leave_out("the users file", "none was named", "name it, where there is one: --users FILE");
            return {};
        }
        return take(request_.users, users_in_backup, 0600);
    }

    journal::JournalResult<BackupMade> finish() {
        made_.manifest.made_utc = utc_now_text();
        const auto text = manifest_text(made_.manifest);
        const auto written =
            seal::write_whole_file(inside(manifest_name), text, seal::ReadableBy::everybody, seal::Present::is_kept);
        if (!written) return journal::JournalError{written.error().message};
        made_.manifest_sha256 = seal::hex(seal::sha256(text));
        // Names of files are only on the disk once their folders are.
        std::error_code error;
        for (const auto& at : fs::recursive_directory_iterator(folder_, error))
            if (const auto kept = seal::keep_names_of(at.path().string()); !kept)
                return journal::JournalError{kept.error().message};
        if (::renameat2(AT_FDCWD, folder_.c_str(), AT_FDCWD, request_.to.c_str(), RENAME_NOREPLACE) != 0)
            return journal::JournalError{fmt::format("{}: the back-up cannot get that name ({}); nothing was changed",
                                                     request_.to, std::strerror(errno))};
        folder_.clear();
        if (const auto kept = seal::keep_names_of(request_.to); !kept)
            return journal::JournalError{kept.error().message};
        return std::move(made_);
    }

    const BackupRequest& request_;
    std::string folder_;
    std::shared_ptr<const bench::BenchFile> bench_; ///< that the journal ends with
    IssuedInJournal issued_;
    BackupMade made_;
};

} // namespace

journal::JournalResult<BackupMade> make_backup(const BackupRequest& request) {
    std::error_code error;
    const auto there = fs::symlink_status(request.to, error);
    if (fs::is_regular_file(there))
        return journal::JournalError{fmt::format("{}: is a file; a back-up is a folder. Give the path of a new one, or "
                                                 "--journal-only for a copy of the journal alone",
                                                 request.to)};
    if (fs::exists(there))
        return journal::JournalError{
            fmt::format("{}: is there already and stays as it is; give the path of a new folder", request.to)};
    return BackupInTheMaking(request).make();
}

} // namespace stillmark::cli
