#include "daemon/cli/verify_certificate.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/verify_documents.hpp"
#include "daemon/records/print/attached.hpp"
#include "daemon/seal/key.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace stillmark::cli {

namespace {

/// Tells what was found, one line each, and keeps whether all of it holds.
class Findings {
  public:
    void say(bool holds, const std::string& words) {
        fmt::print("{:<4}  {}\n", holds ? "good" : "NO", printable(words));
        all_hold_ = all_hold_ && holds;
    }
    bool all_hold() const { return all_hold_; }

  private:
    bool all_hold_ = true;
};

std::optional<std::vector<seal::PublicKey>> keys_of(const std::vector<std::string>& paths, int& exit_code) {
    std::vector<seal::PublicKey> keys;
    for (const auto& path : paths) {
        auto key = seal::PublicKey::load(path);
        if (!key) {
            fmt::print(stderr, "stillmark: {}\n", printable(key.error().message));
            exit_code = code(Exit::wrong_use);
            return std::nullopt;
        }
        keys.push_back(std::move(*key));
    }
    if (keys.empty()) {
        fmt::print(stderr, "stillmark: --key is missing; give the laboratory's public key, JOURNAL.key.pub\n");
        exit_code = code(Exit::wrong_use);
        return std::nullopt;
    }
    return keys;
}

void check_signature(const std::vector<seal::PublicKey>& keys, const std::string& content, const std::string& signature,
                     const std::string& what, Findings& findings) {
    for (const auto& key : keys)
        if (key.accepts(seal::bytes_of(content), seal::bytes_of(signature)))
            return findings.say(true, fmt::format("{} is signed with the key {}", what, key.fingerprint()));
    findings.say(false, fmt::format("{} is not what was signed with {}", what,
                                    keys.size() == 1 ? fmt::format("the key {}", keys.front().fingerprint())
                                                     : "any of these keys"));
}

/// The parts of "stillmark 1 NUMBER SHA256 SIGNATURE".
struct CodeParts {
    std::string statement, number, sha256, signature;
};
std::optional<CodeParts> parts_of_code(const std::string& text) {
    std::istringstream in(text);
    std::string name, version, more;
    CodeParts parts;
    if (!(in >> name >> version >> parts.number >> parts.sha256 >> parts.signature) || in >> more) return std::nullopt;
    const auto signature = seal::from_base64(parts.signature);
    if (name != "stillmark" || version != "1" || !seal::digest_from_hex(parts.sha256) || !signature)
        return std::nullopt;
    parts.statement = fmt::format("stillmark 1 {} {}", parts.number, parts.sha256);
    parts.signature.assign(signature->begin(), signature->end());
    return parts;
}

void check_code(const std::vector<seal::PublicKey>& keys, const std::string& text, const std::string& xml_sha256,
                Findings& findings) {
    const auto parts = parts_of_code(text);
    if (!parts) return findings.say(false, "the code is none of a certificate's");
    check_signature(keys, parts->statement, parts->signature, fmt::format("the code of certificate {}", parts->number),
                    findings);
    if (!xml_sha256.empty()) findings.say(parts->sha256 == xml_sha256, "the code names this digital certificate");
}

/// Whether the journal tells of a signature over exactly this document.
void check_record(const std::string& journal_path, const std::string& sha256, Findings& findings, int& exit_code) {
    const auto issued = issued_in(journal_path);
    if (!issued) {
        fmt::print(stderr, "stillmark: {}\n", printable(issued.error().message));
        exit_code = code(Exit::wrong_use);
        return;
    }
    const auto found = std::ranges::find_if(issued->signatures, [&sha256](const auto& one) {
        return one.second.pdf_sha256 == sha256 || one.second.xml_sha256 == sha256;
    });
    const bool is_there = found != issued->signatures.end();
    findings.say(is_there, is_there ? fmt::format("it is on record as certificate {}, signed by {}", found->first,
                                                  found->second.by)
                                    : "the journal knows no certificate with these bytes");
    if (is_there)
        fmt::print("      its anchor in the journal: stillmark verify {} --digest {}:{}\n", printable(journal_path),
                   found->second.journal_number, found->second.journal_digest);
}

/// The certificate that amends this one, by the journal that was given or that the folder belongs to, or by the
/// documents in that folder.
std::optional<std::string> amendment_known(const CertificateToVerify& what, const std::string& xml,
                                           const std::vector<seal::PublicKey>& keys) {
    const auto said = records::statement_of(xml);
    if (!said) return std::nullopt;
    std::error_code error;
    const auto folder = std::filesystem::absolute(what.file, error).parent_path();
    const auto records = folder.parent_path();
    const bool is_in_records = records::folder_named(records.string(), folder.filename().string()).has_documents;
    std::string journal = what.journal;
    if (journal.empty() && is_in_records && records.extension() == ".records")
        journal = std::filesystem::path(records).replace_extension().string();
    if (const auto issued = issued_in(journal)) {
        const auto newer = issued->amended_by.find(said->number);
        if (newer != issued->amended_by.end()) return newer->second;
    }
    return is_in_records ? amended_beside(records.string(), said->number, keys) : std::nullopt;
}

} // namespace

bool is_certificate(const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    std::string head(5, '\0');
    in.read(head.data(), static_cast<std::streamsize>(head.size()));
    return head == "%PDF-" || head == "<?xml";
}

void verify_code(const std::string& text, const std::vector<std::string>& keys, int& exit_code) {
    const auto loaded = keys_of(keys, exit_code);
    if (!loaded) return;
    Findings findings;
    check_code(*loaded, text, "", findings);
    if (!findings.all_hold()) exit_code = code(Exit::answer_is_no);
}

void verify_certificate(const CertificateToVerify& what, int& exit_code) {
    const auto keys = keys_of(what.keys, exit_code);
    if (!keys) return;
    const auto refuse = [&exit_code](const std::string& words) {
        fmt::print(stderr, "stillmark: {}\n", printable(words));
        exit_code = code(Exit::wrong_use);
    };
    const auto document = records::document_at(what.file);
    if (!document) return refuse(fmt::format("{}: cannot be read; check the path and the permissions", what.file));
    const auto signature = records::document_at(what.file + ".sig");
    if (!signature)
        return refuse(
            fmt::format("{0}.sig: is not there; a signed certificate has its signature beside it (a draft has "
                        "none)",
                        what.file));
    Findings findings;
    check_signature(*keys, *document, *signature, std::filesystem::path(what.file).filename().string(), findings);
    std::string xml = *document;
    if (document->starts_with("%PDF-")) {
        const auto attached = records::attached_to(*document);
        findings.say(attached.has_value(), attached
                                               ? fmt::format("it carries the digital certificate {}", attached->name)
                                               : attached.error().message);
        xml = attached ? attached->bytes : "";
    }
    const std::string xml_sha256 = xml.empty() ? "" : seal::hex(seal::sha256(xml));
    fmt::print("      SHA-256 of the digital certificate: {}\n", xml_sha256);
    if (what.printed) {
        const auto printed = seal::digest_from_hex(*what.printed);
        findings.say(printed && seal::hex(*printed) == xml_sha256,
                     "the printed SHA-256 is that of the digital certificate");
    }
    if (what.code) check_code(*keys, *what.code, xml_sha256, findings);
    if (!what.journal.empty()) check_record(what.journal, seal::hex(seal::sha256(*document)), findings, exit_code);
    if (const auto newer = amendment_known(what, xml, *keys))
        fmt::print("note  superseded by {}: that certificate amends this one\n", printable(*newer));
    if (!findings.all_hold()) exit_code = code(Exit::answer_is_no);
}

} // namespace stillmark::cli
