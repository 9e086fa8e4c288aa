#include "daemon/records/issued_documents.hpp"

#include "daemon/seal/file_copy.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <filesystem>
#include <fstream>
#include <pugixml.hpp>

namespace stillmark::records {

namespace {

constexpr std::uintmax_t largest_read = 64U << 20U;
constexpr std::string_view unrecorded_ending = ".unrecorded";
constexpr std::string_view draft_mark = "-draft-";

bool holds_documents(const std::filesystem::path& folder, const std::string& number) {
    std::error_code error;
    return std::filesystem::is_regular_file(folder / (number + ".pdf"), error) ||
           std::filesystem::is_regular_file(folder / (number + ".xml"), error);
}

/// "NUMBER-draft-EDITION"; nothing where the name is another.
std::optional<std::pair<std::string, std::int64_t>> draft_named(const std::string& name) {
    const auto at = name.rfind(draft_mark);
    if (at == std::string::npos || at == 0) return std::nullopt;
    std::int64_t edition = 0;
    const char* begin = name.data() + at + draft_mark.size();
    const char* end = name.data() + name.size();
    const auto read = std::from_chars(begin, end, edition);
    if (read.ec != std::errc() || read.ptr != end || edition < 1) return std::nullopt;
    return std::pair{name.substr(0, at), edition};
}

/// The text of the quantity with this refType in the statement of the proof.
std::string proof_text_in(const pugi::xml_node& root, const char* ref_type) {
    const auto statements = root.child("dcc:administrativeData").child("dcc:statements");
    for (const auto& statement : statements.children("dcc:statement"))
        for (const auto& quantity : statement.child("dcc:data").children("dcc:quantity"))
            if (std::string_view(quantity.attribute("refType").value()) == ref_type)
                return quantity.child("dcc:noQuantity").child("dcc:content").text().get();
    return {};
}

} // namespace

CertificateFolder folder_named(const std::string& records, const std::string& name) {
    const auto path = std::filesystem::path(records) / name;
    // A number may look like the name of a draft's folder, so what is in it counts first.
    if (holds_documents(path, name)) return {name, name, 0, false, true};
    if (name.ends_with(unrecorded_ending)) {
        const auto number = name.substr(0, name.size() - unrecorded_ending.size());
        return {name, number, 0, true, holds_documents(path, number)};
    }
    if (const auto draft = draft_named(name))
        return {name, draft->first, draft->second, false, holds_documents(path, draft->first)};
    return {name, name, 0, false, false};
}

RecordResult<std::vector<CertificateFolder>> certificate_folders(const std::string& records) {
    std::error_code error;
    std::vector<CertificateFolder> found;
    if (!std::filesystem::exists(records, error)) return found;
    std::filesystem::directory_iterator at(records, error);
    for (; !error && at != std::filesystem::directory_iterator(); at.increment(error)) {
        const auto name = at->path().filename().string();
        std::error_code ignored;
        if (name.starts_with('.') || !at->is_directory(ignored)) continue;
        found.push_back(folder_named(records, name));
    }
    if (error)
        return RecordError{fmt::format("{}: the folder of the certificates cannot be read ({}); check the path and the "
                                       "permissions",
                                       records, error.message())};
    std::ranges::sort(found, {}, &CertificateFolder::name);
    return found;
}

std::vector<std::string> half_written_folders(const std::string& records) {
    std::vector<std::string> found;
    std::error_code error;
    std::filesystem::directory_iterator at(records, error);
    for (; !error && at != std::filesystem::directory_iterator(); at.increment(error)) {
        const auto name = at->path().filename().string();
        const auto inner = name.starts_with('.') && (name.ends_with(".new") || name.ends_with(".old"))
                               ? name.substr(1, name.size() - 5)
                               : "";
        if (inner.ends_with(unrecorded_ending) || draft_named(inner)) found.push_back(name);
    }
    return found;
}

std::string document_path(const std::string& records, const CertificateFolder& folder, const std::string& ending) {
    return (std::filesystem::path(records) / folder.name / (folder.number + ending)).string();
}

RecordResult<DocumentDigests> digests_of(const std::string& records, const CertificateFolder& folder) {
    const auto pdf = seal::content_of(document_path(records, folder, ".pdf"));
    if (!pdf) return RecordError{pdf.error().message};
    const auto xml = seal::content_of(document_path(records, folder, ".xml"));
    if (!xml) return RecordError{xml.error().message};
    return DocumentDigests{seal::hex(pdf->sha256), seal::hex(xml->sha256)};
}

RecordResult<DigitalStatement> statement_of(const std::string& xml) {
    pugi::xml_document document;
    const auto parsed = document.load_buffer(xml.data(), xml.size());
    if (!parsed) return RecordError{fmt::format("cannot be read as XML ({})", parsed.description())};
    const auto root = document.child("dcc:digitalCalibrationCertificate");
    const auto core = root.child("dcc:administrativeData").child("dcc:coreData");
    DigitalStatement said;
    said.number = core.child("dcc:uniqueIdentifier").text().get();
    said.replaces = core.child("dcc:previousReport").child("dcc:referralID").text().get();
    said.journal_digest = proof_text_in(root, "stillmark_journalDigest");
    const auto number = proof_text_in(root, "stillmark_journalNumber");
    const auto read = std::from_chars(number.data(), number.data() + number.size(), said.journal_number);
    if (said.number.empty() || read.ec != std::errc() || !seal::digest_from_hex(said.journal_digest))
        return RecordError{"is no digital certificate that says on what number of a journal it rests"};
    return said;
}

std::optional<std::string> document_at(const std::string& path) {
    std::error_code error;
    const auto size = std::filesystem::file_size(path, error);
    if (error || size > largest_read) return std::nullopt;
    std::ifstream in(path, std::ios::binary);
    std::string bytes(size, '\0');
    in.read(bytes.data(), static_cast<std::streamsize>(size));
    if (!in) return std::nullopt;
    return bytes;
}

} // namespace stillmark::records
