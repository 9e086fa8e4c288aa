#include "daemon/cli/verify_documents.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

namespace stillmark::cli {

namespace {

/// A folder's digital certificate, read back and held against its signature where keys are given.
journal::JournalResult<DocumentBeside> document_in(const std::string& records, const records::CertificateFolder& folder,
                                                   const std::vector<seal::PublicKey>& keys) {
    const auto path = (std::filesystem::path(records) / folder.name).string();
    const auto wrong = [&path](const std::string& found) { return journal::JournalError{path + ": " + found}; };
    const auto xml = records::document_at(records::document_path(records, folder, ".xml"));
    if (!xml) return wrong("its digital certificate cannot be read");
    const auto said = records::statement_of(*xml);
    if (!said) return wrong(said.error().message);
    if (said->number != folder.number) return wrong(fmt::format("holds certificate {}", said->number));
    if (!keys.empty()) {
        const auto signature = records::document_at(records::document_path(records, folder, ".xml.sig")).value_or("");
        const bool is_signed = std::ranges::any_of(keys, [&](const seal::PublicKey& key) {
            return key.accepts(seal::bytes_of(*xml), seal::bytes_of(signature));
        });
        if (!is_signed) return wrong("its digital certificate is not signed with the given key");
    }
    const auto digests = records::digests_of(records, folder);
    if (!digests) return wrong(digests.error().message);
    return DocumentBeside{folder, path, *digests, *said};
}

} // namespace

journal::JournalResult<IssuedInJournal> issued_in(const std::string& journal) {
    auto reader = journal::JournalReader::open(journal);
    if (!reader) return reader.error();
    IssuedInJournal issued;
    std::map<std::string, bench::CertificateDrafted> drafts;
    const auto walked = (*reader)->events([&](const journal::EventRecord& record) {
        if (record.body.find("Certificate") == std::string::npos) return true;
        std::string why;
        const auto fact = bench::fact_from_text(record.body, why);
        if (!fact) return true;
        if (const auto* draft = std::get_if<bench::CertificateDrafted>(&*fact)) drafts[draft->certificate] = *draft;
        if (const auto* signature = std::get_if<bench::CertificateSigned>(&*fact)) {
            issued.signatures.emplace(signature->certificate, *signature);
            const auto& replaces = drafts[signature->certificate].replaces;
            if (!replaces.empty()) issued.amended_by.emplace(replaces, signature->certificate);
        }
        return true;
    });
    if (!walked) return walked.error();
    return issued;
}

std::vector<journal::PrintedDigest> DocumentsBeside::anchors() const {
    std::vector<journal::PrintedDigest> list;
    for (const auto& one : documents)
        if (const auto digest = seal::digest_from_hex(one.said.journal_digest))
            list.push_back({one.said.journal_number, *digest, one.said.number});
    return list;
}

DocumentsBeside documents_beside(const std::string& records, const std::vector<seal::PublicKey>& keys) {
    DocumentsBeside beside;
    const auto folders = records::certificate_folders(records);
    if (!folders) {
        beside.findings.push_back(folders.error().message);
        return beside;
    }
    for (const auto& folder : *folders) {
        if (!folder.is_signed() || !folder.has_documents) continue;
        const auto found = document_in(records, folder, keys);
        if (found)
            beside.documents.push_back(*found);
        else
            beside.findings.push_back(found.error().message);
    }
    return beside;
}

journal::JournalResult<void> compare_with_journal(DocumentsBeside& beside, const std::string& journal,
                                                  std::int64_t last) {
    const auto issued = issued_in(journal);
    if (!issued) return issued.error();
    auto missing = issued->signatures;
    for (const auto& one : beside.documents) {
        const auto found = issued->signatures.find(one.said.number);
        missing.erase(one.said.number);
        if (found == issued->signatures.end()) {
            // Documents without their name are perhaps never issued.
            if (one.said.journal_number <= last && !one.folder.unrecorded)
                beside.findings.push_back(
                    fmt::format("{}: certificate {} is signed, and the journal has no signature of "
                                "it: what followed number {} is not what it was issued from",
                                one.path, one.said.number, one.said.journal_number));
            continue;
        }
        const auto& signature = found->second;
        if (one.digests != records::DocumentDigests{signature.pdf_sha256, signature.xml_sha256})
            beside.findings.push_back(
                fmt::format("{}: its documents are not those that were signed as certificate {} in "
                            "this journal",
                            one.path, one.said.number));
    }
    for (const auto& [number, signature] : missing)
        beside.without_folder.push_back(number);
    return {};
}

std::optional<std::string> amended_beside(const std::string& records, const std::string& number,
                                          const std::vector<seal::PublicKey>& keys) {
    for (const auto& one : documents_beside(records, keys).documents)
        if (one.said.replaces == number) return one.said.number;
    return std::nullopt;
}

} // namespace stillmark::cli
