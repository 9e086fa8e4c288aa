#include "daemon/cli/verify_report.hpp"

#include "daemon/cli/columns.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <iterator>

namespace stillmark::cli {

namespace {

using Compared = journal::Comparison::Outcome;

std::string utc_of(std::int64_t utc_us) {
    const std::chrono::sys_time<std::chrono::microseconds> instant{std::chrono::microseconds(utc_us)};
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", std::chrono::floor<std::chrono::seconds>(instant));
}

std::string many(std::uint64_t count, std::string_view one) {
    return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}

/// What no digest in the file itself can show.
std::vector<std::string> unproved(const VerifyReport& report) {
    const auto& told = report.told;
    std::vector<std::string> words;
    if (told.chained_after > 0)
        words.push_back(fmt::format("numbers 1 to {} were written before this journal had a chain: they are as they "
                                    "were when it got one",
                                    told.chained_after));
    if (told.checkpoints == 0)
        words.emplace_back("nothing is signed");
    else if (told.signed_up_to < told.head.last)
        words.push_back(fmt::format("numbers {} to {} are not signed: they were written after the last checkpoint",
                                    told.signed_up_to + 1, told.head.last));
    const bool has_printed =
        std::ranges::any_of(report.anchors.printed, [](const auto& printed) { return printed.certificate.empty(); });
    if (report.anchors.keys.empty() && !has_printed)
        words.emplace_back("who can write the file can also make a whole new one: give the service's public key "
                           "(--key), or a digest that was printed (--digest), from elsewhere");
    if (!report.beside.without_folder.empty())
        words.push_back(fmt::format("the documents of {} are not beside the journal: {}",
                                    many(report.beside.without_folder.size(), "signed certificate"),
                                    fmt::join(report.beside.without_folder, ", ")));
    return words;
}

std::string_view verdict(const VerifyReport& report) {
    const auto& told = report.told;
    if (!told.content_is_as_stored() || !report.beside.findings.empty()) return "NOT what was written";
    return told.pages.empty() ? "content identical to what was written"
                              : "content identical to what was written, but the file is damaged";
}

std::string comparison_text(const VerifyReport& report) {
    const auto& compared = *report.comparison;
    switch (compared.outcome) {
    case Compared::identical:
        return "content identical to that of " + report.other;
    case Compared::other_is_beginning:
        return fmt::format("holds all that is in {} and goes on: {}", report.other, compared.words);
    case Compared::this_is_beginning:
        return fmt::format("LACKS what follows in {}: {}", report.other, compared.words);
    default:
        return fmt::format("DIFFERS from {}: {} ({} events and blocks before it are alike)", report.other,
                           compared.words, compared.alike);
    }
}

const char* outcome_word(Compared outcome) {
    switch (outcome) {
    case Compared::identical:
        return "identical";
    case Compared::other_is_beginning:
        return "other is its beginning";
    case Compared::this_is_beginning:
        return "is the beginning of the other";
    default:
        return "different";
    }
}

} // namespace

bool is_as_written(const VerifyReport& report) {
    const bool lacks = report.comparison && report.comparison->outcome != Compared::identical &&
                       report.comparison->outcome != Compared::other_is_beginning;
    return report.told.content_is_as_stored() && report.told.pages.empty() && report.beside.findings.empty() && !lacks;
}

std::string report_text(const VerifyReport& report) {
    const auto& told = report.told;
    std::string text = fmt::format("{}: {}\n", report.file, verdict(report));
    const auto line = [&text](const std::string& words) { text += "  " + printable(words) + "\n"; };
    for (const auto& finding : told.findings)
        line(finding);
    if (told.found > told.findings.size()) line(fmt::format("and {} more", told.found - told.findings.size()));
    for (const auto& finding : report.beside.findings)
        line(finding);
    for (const auto& words : told.pages)
        line(fmt::format("the file, not its contents: {}; go on with an undamaged copy", words));
    if (told.links > 0) {
        line(fmt::format("{} and {} in {}, up to number {}; {}, {}", many(told.events, "event"),
                         many(told.readings, "reading"), many(told.blocks, "block"), told.head.last,
                         many(told.links, "link"), many(told.checkpoints, "checkpoint")));
        line(fmt::format("journal {}, made {}", told.identity, told.created));
        line(fmt::format("digest at number {}: {}", told.head.last, seal::hex(told.head.digest)));
    }
    if (!told.signed_by.empty())
        line(fmt::format("signed up to number {}, at {}, with the key of fingerprint {}", told.signed_up_to,
                         utc_of(told.signed_utc_us), fmt::join(told.signed_by, ", ")));
    if (told.content_is_as_stored()) {
        for (const auto& printed : report.anchors.printed)
            line(printed.certificate.empty()
                     ? fmt::format("the digest printed for number {} is its own", printed.number)
                     : fmt::format("certificate {} rests on number {} of it", printed.certificate, printed.number));
        for (const auto& words : unproved(report))
            line("not proved: " + words);
    }
    if (report.comparison) text += fmt::format("{}: {}\n", report.file, printable(comparison_text(report)));
    return text;
}

std::string report_json(const VerifyReport& report) {
    const auto& told = report.told;
    nlohmann::json json = {{"file", report.file},
                           {"as_written", told.content_is_as_stored()},
                           {"findings", told.findings},
                           {"found", told.found},
                           {"file_damage", told.pages},
                           {"identity", told.identity},
                           {"created", told.created},
                           {"events", told.events},
                           {"readings", told.readings},
                           {"blocks", told.blocks},
                           {"links", told.links},
                           {"checkpoints", told.checkpoints},
                           {"unconfirmed", told.unconfirmed},
                           {"last", told.head.last},
                           {"digest", seal::hex(told.head.digest)},
                           {"signed_up_to", told.signed_up_to},
                           {"signed_by", told.signed_by},
                           {"chained_after", told.chained_after},
                           {"not_proved", unproved(report)}};
    if (!told.signed_by.empty()) json["signed_utc"] = utc_of(told.signed_utc_us);
    nlohmann::json certificates = nlohmann::json::array();
    for (const auto& one : report.beside.documents)
        certificates.push_back({{"certificate", one.said.number},
                                {"folder", one.path},
                                {"number", one.said.journal_number},
                                {"digest", one.said.journal_digest}});
    json["documents"] = {{"certificates", std::move(certificates)},
                         {"findings", report.beside.findings},
                         {"not_there", report.beside.without_folder}};
    if (report.comparison)
        json["against"] = {{"file", report.other},
                           {"outcome", outcome_word(report.comparison->outcome)},
                           {"alike", report.comparison->alike},
                           {"words", report.comparison->words}};
    return json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

} // namespace stillmark::cli
