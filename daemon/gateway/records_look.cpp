#include "daemon/gateway/records_look.hpp"

#include "daemon/journal/verify.hpp"
#include "daemon/records/documents.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

namespace stillmark::gateway {

namespace {

using Code = RecordsFinding::Code;
using records::CertificateFolder;

/// One look at the folder.
class Looker {
  public:
    explicit Looker(const RecordsLookRequest& request) : request_(request) {}

    RecordsLook look() {
        if (request_.at_start)
            for (const auto& name : records::half_written_folders(request_.folder)) {
                std::error_code error;
                std::filesystem::remove_all(path(name), error);
                if (!error)
                    look_.done.push_back(fmt::format("{}: was written in part only, and was removed", path(name)));
            }
        auto folders = records::certificate_folders(request_.folder);
        if (folders)
            for (const auto& folder : *folders)
                if (folder.unrecorded && !request_.busy.contains(folder.number)) complete(folder);
        folders = records::certificate_folders(request_.folder); // some have got their names
        if (!folders) {
            // Not to know which numbers are taken is as bad as not to remember them.
            say(Code::memory_unreadable, "", request_.folder, folders.error().message);
            return std::move(look_);
        }
        for (const auto& folder : *folders)
            take(folder);
        // A draft's documents stay beside those that were signed.
        std::erase_if(look_.findings, [this](const RecordsFinding& one) {
            return one.code == Code::unknown_draft && look_.outside.issued.contains(one.certificate);
        });
        for (const auto& one : request_.certificates)
            if (one.signature && !request_.busy.contains(one.draft.certificate)) compare(one);
        remember();
        return std::move(look_);
    }

  private:
    const bench::RecordedCertificate* recorded(const std::string& number) const {
        const auto found = std::ranges::find_if(request_.certificates,
                                                [&number](const auto& one) { return one.draft.certificate == number; });
        return found == request_.certificates.end() ? nullptr : &*found;
    }
    std::string path(const std::string& name) const { return (std::filesystem::path(request_.folder) / name).string(); }
    void say(Code code, const std::string& certificate, const std::string& place, std::string detail = "") {
        RecordsFinding finding{code, certificate, place, std::move(detail)};
        if (std::ranges::find(look_.findings, finding) == look_.findings.end())
            look_.findings.push_back(std::move(finding));
    }

    bool is_what_was_signed(const CertificateFolder& folder, const bench::CertificateSigned& signature) const {
        return holds_what_was_signed(request_.folder, folder, signature);
    }

    /// Signed documents that have not got their name yet.
    void complete(const CertificateFolder& folder) {
        const auto* one = recorded(folder.number);
        if (one == nullptr || !one->signature) return clean_up(folder);
        if (!is_what_was_signed(folder, *one->signature))
            return say(Code::other_content, folder.number, path(folder.name));
        const auto target = records::folder_named(request_.folder, folder.number);
        std::error_code error;
        if (!std::filesystem::exists(path(folder.number), error)) {
            const auto put = records::rename_folder(path(folder.name), path(folder.number));
            if (!put) return say(Code::not_in_place, folder.number, path(folder.name), put.error().message);
            look_.done.push_back(fmt::format("certificate {}: its signed documents are in their place, {}",
                                             folder.number, path(folder.number)));
        } else if (is_what_was_signed(target, *one->signature)) {
            remove(folder, "they are in their place already");
        } else {
            say(Code::not_in_place, folder.number, path(folder.name),
                fmt::format("{} holds other documents", path(folder.number)));
        }
    }

    /// Never issued, where this very journal goes on without the signature.
    void clean_up(const CertificateFolder& folder) {
        if (request_.journal_failed) return;
        if (is_of_this_journal(folder))
            return remove(folder, "their signature is not on record, they were never issued");
        look_.outside.issued.insert(folder.number);
    }

    bool is_of_this_journal(const CertificateFolder& folder) const {
        const auto xml = records::document_at(records::document_path(request_.folder, folder, ".xml"));
        const auto said = xml ? records::statement_of(*xml) : records::RecordError{"missing"};
        if (!said) return false;
        const auto digest = seal::digest_from_hex(said->journal_digest);
        const auto held = journal::holds_digest(request_.journal, {said->journal_number, *digest});
        return held && *held;
    }

    void remove(const CertificateFolder& folder, const char* why) {
        std::error_code error;
        std::filesystem::remove_all(path(folder.name), error);
        if (error) return say(Code::not_in_place, folder.number, path(folder.name), error.message());
        look_.done.push_back(fmt::format("{}: the documents of certificate {} there were removed: {}",
                                         path(folder.name), folder.number, why));
    }

    /// What a folder says of numbers.
    void take(const CertificateFolder& folder) {
        look_.outside.taken.insert(folder.number);
        look_.outside.taken.insert(folder.name); // whatever is in it, no other certificate can have that folder
        const auto* one = recorded(folder.number);
        if (!folder.is_signed()) {
            auto& edition = look_.outside.editions[folder.number];
            edition = std::max(edition, folder.edition);
            if (one == nullptr && folder.has_documents && !request_.busy.contains(folder.number))
                say(Code::unknown_draft, folder.number, path(folder.name));
            return;
        }
        const bool is_open = request_.busy.contains(folder.number) || (folder.unrecorded && request_.journal_failed);
        if (is_open || (one != nullptr && one->signature)) return;
        look_.outside.issued.insert(folder.number);
        if (!folder.has_documents) return;
        const auto xml = records::document_at(records::document_path(request_.folder, folder, ".xml"));
        const auto said = xml ? records::statement_of(*xml) : records::RecordError{"missing"};
        say(Code::unknown_signed, folder.number, path(folder.name), said ? said->replaces : "");
    }

    /// Whether the documents of a signed certificate are there, and are those.
    void compare(const bench::RecordedCertificate& one) {
        const auto& number = one.draft.certificate;
        const auto folder = records::folder_named(request_.folder, number);
        std::error_code error;
        if (!folder.has_documents && !std::filesystem::exists(path(number), error)) {
            const auto waiting = records::folder_named(request_.folder, number + ".unrecorded");
            if (!waiting.has_documents) say(Code::missing, number, path(number));
            return;
        }
        if (!request_.compare_all && !request_.compare.contains(number)) return;
        if (!is_what_was_signed({number, number, 0, false, true}, *one.signature))
            say(Code::other_content, number, path(number));
    }

    void remember() {
        const auto known = journal::remembered_numbers(request_.memory);
        if (!known) return say(Code::memory_unreadable, "", request_.memory, known.error().message);
        for (const auto& [series, count] : *known)
            look_.outside.taken.insert(bench::number_in(series, count));
        const auto kept =
            journal::remember_numbers(request_.memory, highest_numbers(request_.certificates, request_.settings,
                                                                       request_.utc_us, look_.outside.taken));
        if (!kept) say(Code::memory_unreadable, "", request_.memory, kept.error().message);
    }

    const RecordsLookRequest& request_;
    RecordsLook look_;
};

} // namespace

const char* word(RecordsFinding::Code code) {
    switch (code) {
    case Code::unknown_signed:
        return "unknown_signed";
    case Code::unknown_draft:
        return "unknown_draft";
    case Code::other_content:
        return "other_content";
    case Code::not_in_place:
        return "not_in_place";
    case Code::missing:
        return "missing";
    default:
        return "memory_unreadable";
    }
}

std::string words_of(const RecordsFinding& finding) {
    const auto& [code, certificate, place, detail] = finding;
    switch (code) {
    case Code::unknown_signed:
        return fmt::format(
            "{}: certificate {}{} is signed, and the journal does not know it: the journal is older than "
            "this document (a restored back-up), or somebody put the document there. It stays as it is, "
            "and its number is not given again; keep it with the others",
            place, certificate, detail.empty() ? "" : fmt::format(", which amends {},", detail));
    case Code::unknown_draft:
        return fmt::format(
            "{}: a draft of certificate {} that the journal does not know: the journal is older than it. "
            "Its number is not given again; remove the folder when nobody needs it",
            place, certificate);
    case Code::other_content:
        return fmt::format("{}: holds other documents than those that were signed as certificate {} in this journal. "
                           "They are not served; put the signed ones there, from a back-up",
                           place, certificate);
    case Code::not_in_place:
        return fmt::format(
            "{}: certificate {} is signed, but its documents cannot get their place ({}); mend that, it is "
            "tried again with the next certificate and at the next start",
            place, certificate, detail);
    case Code::missing:
        return fmt::format(
            "{}: certificate {} is signed, but its documents are not there; put them there, from a back-up", place,
            certificate);
    default:
        return detail;
    }
}

bool holds_what_was_signed(const std::string& records, const CertificateFolder& folder,
                           const bench::CertificateSigned& signature) {
    const auto digests = records::digests_of(records, folder);
    return digests && *digests == records::DocumentDigests{signature.pdf_sha256, signature.xml_sha256};
}

RecordsLook look_at_records(const RecordsLookRequest& request) {
    return Looker(request).look();
}

journal::HighestNumbers highest_numbers(const std::vector<bench::RecordedCertificate>& certificates,
                                        const bench::RecordSettings& settings, Micros utc_us,
                                        const std::set<std::string>& outside) {
    journal::HighestNumbers highest;
    const auto raise = [&highest](const std::string& series, const std::string& number) {
        if (const auto count = bench::count_in(series, number)) highest[series] = std::max(highest[series], *count);
    };
    const auto present = bench::numbering_series(settings, utc_us);
    for (const auto& one : certificates)
        raise(bench::numbering_series(settings, one.draft.utc_us), one.draft.certificate);
    for (const auto& number : outside)
        raise(present, number);
    return highest;
}

} // namespace stillmark::gateway
