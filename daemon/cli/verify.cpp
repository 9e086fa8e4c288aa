#include "daemon/journal/verify.hpp"

#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/verify_certificate.hpp"
#include "daemon/cli/verify_report.hpp"
#include "daemon/journal/compare.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <charconv>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

namespace {

struct VerifyWords {
    std::string file;
    std::vector<std::string> keys;
    std::vector<std::string> digests;
    std::string against;
    std::string journal;
    std::string records;
    std::optional<std::string> printed;
    std::optional<std::string> code;
    bool pages = false;
    bool as_json = false;
};

void refuse_verify(const std::string& words, int& exit_code) {
    fmt::print(stderr, "stillmark: {}\n", words);
    exit_code = code(Exit::wrong_use);
}

/// "NUMBER:HEX", as a certificate prints it.
std::optional<journal::PrintedDigest> printed_digest(const std::string& text) {
    const auto colon = text.find(':');
    journal::PrintedDigest printed;
    const auto [end, error] = std::from_chars(text.data(), text.data() + std::min(colon, text.size()), printed.number);
    if (colon == std::string::npos || error != std::errc() || end != text.data() + colon || printed.number < 0)
        return std::nullopt;
    const auto digest = seal::digest_from_hex(std::string_view(text).substr(colon + 1));
    if (!digest) return std::nullopt;
    printed.digest = *digest;
    return printed;
}

void verify_journal(const VerifyWords& words, int& exit_code) {
    journal::Anchors anchors;
    for (const auto& path : words.keys) {
        const auto key = seal::PublicKey::load(path);
        if (!key) return refuse_verify(key.error().message, exit_code);
        anchors.keys.push_back(*key);
    }
    for (const auto& text : words.digests) {
        const auto printed = printed_digest(text);
        if (!printed)
            return refuse_verify(fmt::format("--digest {}: give the number, a colon and the 64 hex digits that are "
                                             "printed beside it",
                                             text),
                                 exit_code);
        anchors.printed.push_back(*printed);
    }
    auto beside = documents_beside(words.records.empty() ? words.file + ".records" : words.records, anchors.keys);
    for (auto& anchor : beside.anchors())
        anchors.printed.push_back(std::move(anchor));
    const auto told =
        journal::verify(words.file, anchors, words.pages ? journal::Pages::every_one : journal::Pages::as_far_as_read);
    if (!told) return refuse_verify(told.error().message, exit_code);
    if (beside.any())
        if (const auto held = compare_with_journal(beside, words.file, told->head.last);
            !held && told->content_is_as_stored())
            return refuse_verify(held.error().message, exit_code);
    std::optional<journal::Comparison> comparison;
    if (!words.against.empty()) {
        const auto compared = journal::compare(words.file, words.against);
        if (!compared) return refuse_verify(compared.error().message, exit_code);
        comparison = *compared;
    }
    const VerifyReport report{words.file, words.against, anchors, *told, comparison, std::move(beside)};
    fmt::print("{}", words.as_json ? report_json(report) : report_text(report));
    if (!is_as_written(report)) exit_code = code(Exit::answer_is_no);
}

} // namespace

void add_verify(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "verify", "Says whether a journal holds what was written to it, or a certificate what was signed; needs "
                  "no service");
    const auto words = std::make_shared<VerifyWords>();
    command->add_option("FILE", words->file, "Journal file, or the PDF or XML of a certificate; none for --code alone");
    command->add_option("--key", words->keys, "Public key of the service that wrote it (PEM); may be given again");
    command->add_option("--digest", words->digests,
                        "NUMBER:HEX, a digest that was printed on a certificate; may be given again");
    command->add_option("--against", words->against, "Another journal, to compare what the two hold");
    command->add_option("--records", words->records,
                        "Folder of the certificates that rest on the journal; FILE.records");
    command->add_option("--journal", words->journal, "Journal in which the certificate should be on record");
    command->add_option("--printed", words->printed, "SHA-256 of the digital certificate, as it is printed");
    command->add_option("--code", words->code, "What a camera read from the code on the certificate");
    command->add_flag("--pages", words->pages, "Look at each page of the file too, not only at what is stored");
    command->add_flag("--json", words->as_json, "Print JSON");
    command->callback([words, &exit_code] {
        if (words->file.empty() && words->code) return verify_code(*words->code, words->keys, exit_code);
        if (words->file.empty()) return refuse_verify("give the file that is to be verified", exit_code);
        if (is_certificate(words->file))
            return verify_certificate({words->file, words->keys, words->journal, words->printed, words->code},
                                      exit_code);
        if (words->code || words->printed || !words->journal.empty())
            return refuse_verify(
                fmt::format("{}: is no certificate; --code, --printed and --journal belong to one", words->file),
                exit_code);
        verify_journal(*words, exit_code);
    });
}

} // namespace stillmark::cli
