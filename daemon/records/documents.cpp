#include "daemon/records/documents.hpp"

#include "daemon/records/digital/digital.hpp"
#include "daemon/records/print/print.hpp"
#include "daemon/records/print/qr.hpp"
#include "daemon/records/tables.hpp"
#include "daemon/seal/whole_file.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>

namespace stillmark::records {

namespace {

namespace fs = std::filesystem;

std::string text_of(const seal::Signature& signature) {
    return {reinterpret_cast<const char*>(signature.data()), signature.size()};
}

/// A name beside another that no document has.
std::string passing_name(const std::string& path, const char* why) {
    const fs::path whole(path);
    return (whole.parent_path() / fmt::format(".{}.{}", whole.filename().string(), why)).string();
}

RecordError trouble(const std::string& path, const std::string& words) {
    return {fmt::format("{}: {}; make room or let the service write there, then ask again", path, words)};
}

} // namespace

RecordResult<Documents> documents_of(Certificate& certificate, const seal::PrivateKey* key) {
    certificate.proof.xml_sha256.clear();
    certificate.proof.code_signature.clear();
    auto xml = dcc_xml(certificate);
    if (!xml) return xml.error();
    certificate.proof.xml_sha256 = seal::hex(seal::sha256(*xml));
    Documents out;
    const std::string& number = certificate.number;
    if (key != nullptr) {
        const auto signature = key->sign(seal::bytes_of(*xml));
        if (!signature) return RecordError{signature.error().message};
        out[number + ".xml.sig"] = text_of(*signature);
        const auto code = key->sign(seal::bytes_of(print::code_statement(certificate)));
        if (!code) return RecordError{code.error().message};
        certificate.proof.code_signature = seal::base64(*code);
    }
    auto pdf = pdf_of(certificate, *xml);
    if (!pdf) return pdf.error();
    if (key != nullptr) {
        const auto signature = key->sign(seal::bytes_of(*pdf));
        if (!signature) return RecordError{signature.error().message};
        out[number + ".pdf.sig"] = text_of(*signature);
    }
    out[number + ".json"] = json_of(certificate);
    out[number + ".csv"] = csv_of(certificate);
    out[number + "-points.csv"] = csv_of_points(certificate);
    out[number + ".xml"] = std::move(*xml);
    out[number + ".pdf"] = std::move(*pdf);
    return out;
}

std::string content_digest(Certificate certificate) {
    certificate.draft = true;
    certificate.edition = 1;
    certificate.issued_utc_us = 0;
    certificate.proof = {};
    certificate.lacking.clear();
    std::erase_if(certificate.signatories, [](const Signatory& one) { return one.role == "reviewer"; });
    return seal::hex(seal::sha256(json_of(certificate)));
}

RecordResult<void> write_folder(const std::string& path, const Documents& documents) {
    const std::string fresh = passing_name(path, "new"), old = passing_name(path, "old");
    std::error_code error;
    fs::remove_all(fresh, error);
    fs::create_directories(fresh, error);
    if (error) return trouble(fresh, error.message());
    for (const auto& [name, text] : documents) {
        const auto written = seal::write_whole_file((fs::path(fresh) / name).string(), text,
                                                    seal::ReadableBy::everybody, seal::Present::is_replaced);
        if (!written) {
            std::error_code ignored;
            fs::remove_all(fresh, ignored);
            return RecordError{written.error().message};
        }
    }
    fs::remove_all(old, error);
    if (fs::exists(path, error) && ::rename(path.c_str(), old.c_str()) != 0) return trouble(path, std::strerror(errno));
    if (::rename(fresh.c_str(), path.c_str()) != 0) return trouble(path, std::strerror(errno));
    fs::remove_all(old, error);
    const auto kept = seal::keep_names_of(path);
    if (!kept) return RecordError{kept.error().message};
    return {};
}

RecordResult<void> rename_folder(const std::string& from, const std::string& to) {
    std::error_code error;
    if (fs::exists(to, error)) return trouble(to, "is there already");
    if (::rename(from.c_str(), to.c_str()) != 0) return trouble(to, std::strerror(errno));
    const auto kept = seal::keep_names_of(to);
    if (!kept) return RecordError{kept.error().message};
    return {};
}

} // namespace stillmark::records
