#include "daemon/cli/backup_folder.hpp"
#include "daemon/journal/memory.hpp"
#include "daemon/seal/key.hpp"
#include "daemon/seal/whole_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <sys/stat.h>

namespace stillmark::cli {

namespace {

/// One restore: first everything is looked at, then everything is put in place.
class Restore {
  public:
    explicit Restore(const RestoreRequest& request) : request_(request) {}

    boost::system::result<Restored, RestoreRefused> restore() {
        auto manifest = manifest_in(request_.from);
        if (!manifest) return RestoreRefused{{manifest.error().message}, false};
        done_.manifest = std::move(*manifest);
        check_files();
        if (damaged_.empty()) check_chain();
        if (!damaged_.empty()) return RestoreRefused{damaged_, true};
        check_places();
        if (!in_the_way_.empty()) return RestoreRefused{in_the_way_, false};
        if (auto trouble = put_all()) return RestoreRefused{{*trouble}, false};
        return std::move(done_);
    }

  private:
    std::string in_backup(const std::string& path) const {
        return (std::filesystem::path(request_.from) / path).string();
    }
    bool has(const char* path) const {
        const auto& files = done_.manifest.files;
        return std::ranges::find(files, std::string(path), &BackedUpFile::path) != files.end();
    }
    /// Where a document of the back-up belongs; nothing for files of other kinds.
    std::optional<std::string> document_place(const BackedUpFile& file) const {
        const std::string below = std::string(records_in_backup) + "/";
        if (!file.path.starts_with(below)) return std::nullopt;
        return (std::filesystem::path(request_.records) / file.path.substr(below.size())).string();
    }

    void check_files() {
        for (const auto& file : done_.manifest.files) {
            const auto found = seal::content_of(in_backup(file.path));
            if (!found)
                damaged_.push_back(found.error().message);
            else if (!(*found == file.content))
                damaged_.push_back(
                    fmt::format("{}: is not what the manifest says: {} bytes with SHA-256 {}, found {} bytes "
                                "with {}; take another back-up",
                                in_backup(file.path), file.content.bytes, seal::hex(file.content.sha256), found->bytes,
                                seal::hex(found->sha256)));
        }
    }

    void check_chain() {
        journal::Anchors anchors;
        const auto number = done_.manifest.journal_number;
        if (const auto digest = seal::digest_from_hex(done_.manifest.journal_digest); digest && number > 0)
            anchors.printed.push_back({number, *digest, ""});
        const auto told = journal::verify(in_backup(journal_in_backup), anchors);
        if (!told) return damaged_.push_back(told.error().message);
        for (const auto& finding : told->findings)
            damaged_.push_back(fmt::format("{}: {}", in_backup(journal_in_backup), finding));
        // A journal may have outlived a key: its last one has to be among those that signed it.
        if (!has(key_in_backup) || told->signed_by.empty()) return;
        const auto key = seal::PublicKey::load(in_backup(key_in_backup));
        if (!key) return damaged_.push_back(key.error().message);
        if (std::ranges::find(told->signed_by, key->fingerprint()) == told->signed_by.end())
            damaged_.push_back(fmt::format("{}: nothing in it is signed with the key {} of this back-up",
                                           in_backup(journal_in_backup), key->fingerprint()));
    }

    void check_places() {
        std::error_code error;
        for (const char* end : {"", "-wal", "-shm"})
            if (const auto path = request_.journal + end; std::filesystem::exists(path, error))
                in_the_way_.push_back(
                    fmt::format("{}: is there already; stop the service and move it away, or give another "
                                "path",
                                path));
        for (const auto& file : done_.manifest.files) {
            const auto place = document_place(file);
            if (!place || !std::filesystem::exists(std::filesystem::symlink_status(*place, error))) continue;
            const auto found = seal::content_of(*place);
            if (!found)
                in_the_way_.push_back(found.error().message);
            else if (!(*found == file.content))
                in_the_way_.push_back(
                    fmt::format("{}: is there already, and is not the document of the back-up; move its "
                                "folder away and keep it, or give another folder (--records)",
                                *place));
        }
        if (has(memory_in_backup)) {
            const auto known = journal::remembered_numbers(memory());
            if (!known) in_the_way_.push_back(known.error().message);
            const auto other = journal::remembered_numbers(in_backup(memory_in_backup));
            if (!other) in_the_way_.push_back(other.error().message);
        }
    }

    std::string memory() const { return journal::memory_path(request_.key); }

    /// What went wrong; what was put in place until then is the same when it is tried again.
    std::optional<std::string> put_all() {
        for (const auto& file : done_.manifest.files)
            if (const auto place = document_place(file))
                if (auto trouble = put_document(file, *place)) return trouble;
        if (has(memory_in_backup))
            if (const auto kept = journal::remember_all_of(memory(), in_backup(memory_in_backup)); !kept)
                return kept.error().message;
        if (has(key_in_backup))
            if (auto trouble = put_public_key()) return trouble;
        return put_journal();
    }

    std::optional<std::string> put_document(const BackedUpFile& file, const std::string& place) {
        std::error_code error;
        if (std::filesystem::exists(place, error)) {
            ++done_.kept;
            return std::nullopt;
        }
        std::filesystem::create_directories(std::filesystem::path(place).parent_path(), error);
        const auto copied = seal::copy_file(in_backup(file.path), place, 0644);
        if (!copied) return copied.error().message;
        if (const auto kept = seal::keep_names_of(place); !kept) return kept.error().message;
        ++done_.written;
        return std::nullopt;
    }

    /// A service without its old private key makes a new one, and writes that one's public half beside it. What was
    /// signed before is verified with this.
    std::optional<std::string> put_public_key() {
        done_.old_public_key = fmt::format("{}.{}.pub", request_.key, done_.manifest.key_fingerprint);
        std::error_code error;
        if (std::filesystem::exists(done_.old_public_key, error)) return std::nullopt;
        const auto copied = seal::copy_file(in_backup(key_in_backup), done_.old_public_key, 0644);
        return copied ? std::nullopt : std::optional(copied.error().message);
    }

    /// The last of all, so that no service starts on half a restore.
    std::optional<std::string> put_journal() {
        const auto beside = request_.journal + ".restoring";
        struct stat found {};
        const unsigned mode = ::stat(in_backup(journal_in_backup).c_str(), &found) == 0 ? found.st_mode & 0777U : 0600U;
        std::error_code error;
        std::filesystem::remove(beside, error); // of a restore that was broken off
        const auto copied = seal::copy_file(in_backup(journal_in_backup), beside, mode);
        if (!copied) return copied.error().message;
        if (::renameat2(AT_FDCWD, beside.c_str(), AT_FDCWD, request_.journal.c_str(), RENAME_NOREPLACE) != 0) {
            auto why = fmt::format("{}: the journal cannot be put there ({})", request_.journal, std::strerror(errno));
            std::filesystem::remove(beside, error);
            return why;
        }
        const auto kept = seal::keep_names_of(request_.journal);
        return kept ? std::nullopt : std::optional(kept.error().message);
    }

    const RestoreRequest& request_;
    Restored done_;
    std::vector<std::string> damaged_;
    std::vector<std::string> in_the_way_;
};

} // namespace

void throw_exception_from_error(const RestoreRefused& error, const boost::source_location&) {
    throw std::runtime_error(error.reasons.empty() ? "not restored" : error.reasons.front());
}

boost::system::result<Restored, RestoreRefused> restore_backup(const RestoreRequest& request) {
    return Restore(request).restore();
}

} // namespace stillmark::cli
