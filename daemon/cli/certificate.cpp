#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/frame.hpp"
#include "daemon/decider/replay.hpp"
#include "daemon/records/content.hpp"
#include "daemon/records/documents.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

namespace stillmark::cli {

namespace {

struct DraftWords {
    std::vector<std::string> runs;
    std::vector<std::string> instruments;
    std::string language = "en";
    std::string amends, reason, by, journal, out;
    bool as_json = false;
};

/// The texts of a list in a reply.
std::vector<std::string> texts_in(const Json& reply, const char* key) {
    std::vector<std::string> texts;
    const auto found = reply.find(key);
    if (found == reply.end() || !found->is_array()) return texts;
    for (const Json& one : *found)
        if (one.is_string()) texts.push_back(one.get<std::string>());
    return texts;
}

std::string text_in(const Json& reply, const char* key) {
    const auto found = reply.find(key);
    return found != reply.end() && found->is_string() ? found->get<std::string>() : "";
}

/// The instruments of a run, by asking for its list.
std::vector<std::string> instruments_of(const ServiceCall& call, const std::string& run, int& exit_code) {
    const auto reply = ask_service(call, {{"do", "run_list"}}, false, exit_code);
    std::vector<std::string> names;
    if (!reply) return names;
    const Json* runs = part_of(*reply, "runs", exit_code);
    if (runs == nullptr || !runs->is_array()) return names;
    for (const Json& one : *runs) {
        if (!one.is_object() || text_in(one, "id") != run) continue;
        const auto list = one.find("instruments");
        if (list == one.end() || !list->is_array()) continue;
        for (const Json& instrument : *list)
            if (instrument.is_object()) names.push_back(text_in(instrument, "name"));
    }
    if (names.empty()) {
        fmt::print(stderr, "stillmark: there is no run \"{}\"; see: stillmark run list\n", printable(run));
        exit_code = code(Exit::answer_is_no);
    }
    return names;
}

/// What holds a signature, in words, and how a reviewer overrides what he may.
void print_lacking(const Json& reply, const std::string& number) {
    const auto lacking = reply.find("lacking");
    if (lacking == reply.end() || !lacking->is_array() || lacking->empty())
        return fmt::print("  It can be signed by a reviewer who did not work at the run.\n");
    fmt::print("  It cannot be signed yet:\n");
    for (const Json& one : *lacking) {
        if (!one.is_object()) continue;
        fmt::print("  - {}\n", printable(text_in(one, "words")));
        const auto overridable = one.find("overridable");
        if (overridable != one.end() && *overridable == true)
            fmt::print("    stillmark override {} {} '{}' --reason WHY\n", printable(number),
                       printable(text_in(one, "code")), printable(text_in(one, "subject")));
    }
}

void draft_certificates(const ServiceCall& call, const DraftWords& words, int& exit_code) {
    auto instruments = words.instruments;
    if (instruments.empty()) instruments = instruments_of(call, words.runs.front(), exit_code);
    Json all = Json::array();
    for (const std::string& instrument : instruments) {
        Json request{{"do", "draft"}, {"runs", words.runs}, {"instrument", instrument}, {"language", words.language}};
        if (!words.amends.empty()) request["replaces"] = words.amends;
        if (!words.reason.empty()) request["reason"] = words.reason;
        if (!words.by.empty()) request["by"] = words.by;
        const auto reply = command_service(call, request, words.as_json, exit_code);
        if (!reply) return;
        if (words.as_json) {
            all.push_back(*reply);
            continue;
        }
        fmt::print("{}, edition {}: draft of {} in {}\n", printable(text_in(*reply, "certificate")),
                   reply->value("edition", 0), printable(instrument), printable(text_in(*reply, "folder")));
        print_lacking(*reply, text_in(*reply, "certificate"));
    }
    if (words.as_json) print_json(all);
}

/// The same from a journal alone: nothing is recorded, so it has no number of the laboratory's.
void draft_from_journal(const DraftWords& words, int& exit_code) {
    const auto refuse = [&exit_code](const std::string& why, Exit exit) {
        fmt::print(stderr, "stillmark: {}\n", printable(why));
        exit_code = code(exit);
    };
    const auto replayed = decider::replay(words.journal);
    if (!replayed) return refuse(replayed.error().message, Exit::wrong_use);
    const auto& state = replayed->state;
    const auto* run = bench::run_named(state, words.runs.front());
    if (run == nullptr)
        return refuse(fmt::format("there is no run \"{}\" in {}", words.runs.front(), words.journal),
                      Exit::answer_is_no);
    auto instruments = words.instruments;
    for (std::size_t i = 0; i < run->takes_part.size() && words.instruments.empty(); ++i)
        if (run->takes_part[i]) instruments.push_back(run->bench->instruments[i].name);
    for (const std::string& instrument : instruments) {
        bench::CertificateDrafted draft;
        draft.certificate = fmt::format("draft-{}-{}", words.runs.front(), &instrument - instruments.data() + 1);
        draft.runs = words.runs;
        draft.instrument = instrument;
        draft.language = words.language;
        draft.utc_us = run->ended_utc_us;
        auto certificate = records::certificate_of(state, draft);
        if (!certificate) return refuse(certificate.error().message, Exit::answer_is_no);
        const auto documents = records::documents_of(*certificate, nullptr);
        if (!documents) return refuse(documents.error().message, Exit::answer_is_no);
        const auto folder = (std::filesystem::path(words.out) / draft.certificate).string();
        if (const auto written = records::write_folder(folder, *documents); !written)
            return refuse(written.error().message, Exit::internal);
        fmt::print("Draft of {} in {}\n", printable(instrument), printable(folder));
    }
}

void list_certificates(const ServiceCall& call, bool as_json, int& exit_code) {
    constexpr std::size_t print_columns = 110;
    const auto reply = ask_service(call, {{"do", "certificate_list"}}, as_json, exit_code);
    if (!reply) return;
    const Json* all = part_of(*reply, "certificates", exit_code);
    if (all == nullptr) return;
    if (as_json) return print_json(*all);
    const auto findings = reply->find("findings");
    if (findings != reply->end() && findings->is_array())
        for (const Json& one : *findings)
            if (one.is_object()) fmt::print("{}\n", printable(text_in(one, "words")));
    if (!all->is_array() || all->empty()) return fmt::print("No certificate yet.\n");
    Table table;
    for (const char* column : {"certificate", "state", "instrument", "run", "signed by", "superseded by", "lacks"})
        table.add_column(column);
    for (const Json& one : *all) {
        if (!one.is_object()) continue;
        const auto list = one.find("lacking");
        const auto lacking = list != one.end() && list->is_array() ? list->size() : 0;
        std::string runs;
        for (const auto& run : texts_in(one, "runs"))
            runs += (runs.empty() ? "" : ", ") + run;
        table.add_row({text_in(one, "certificate"), text_in(one, "state"), text_in(one, "instrument"), runs,
                       text_in(one, "signed_by"), text_in(one, "superseded_by"),
                       lacking == 0 ? "" : fmt::format("{}", lacking)});
    }
    for (const std::string& line : table.lines(print_columns))
        fmt::print("{}\n", printable(line));
}

void sign_certificate(const ServiceCall& call, const std::string& number, const std::string& by, bool as_json,
                      int& exit_code) {
    Json request{{"do", "sign"}, {"certificate", number}};
    if (!by.empty()) request["by"] = by;
    const auto reply = command_service(call, request, as_json, exit_code);
    if (!reply) return;
    if (as_json) return print_json(*reply);
    fmt::print("{} is signed; its documents are in {}\n", printable(number), printable(text_in(*reply, "folder")));
    if (const auto trouble = text_in(*reply, "trouble"); !trouble.empty()) fmt::print("  {}\n", printable(trouble));
    fmt::print("  SHA-256 of the PDF  {}\n", printable(text_in(*reply, "pdf_sha256")));
    fmt::print("  SHA-256 of the XML  {}\n", printable(text_in(*reply, "xml_sha256")));
}

} // namespace

void add_certificate(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand("certificate", "Draft the certificates of a run's instruments");
    const auto words = std::make_shared<DraftWords>();
    command->add_option("RUN", words->runs, "Name of the run; of two, the one as found, then the one as left")
        ->required()
        ->expected(1, 2);
    command->add_option("--instrument", words->instruments, "Name of an instrument; all of the run where not given")
        ->allow_extra_args(false);
    command->add_option("--language", words->language, "en or de")
        ->check(CLI::IsMember({"en", "de"}))
        ->capture_default_str();
    command->add_option("--amends", words->amends, "Number of the signed certificate that the new one amends");
    command->add_option("--reason", words->reason, "Why it is amended")->needs("--amends");
    command->add_option("--by", words->by, "Who does it; the login name where not given");
    command->add_option("--journal", words->journal, "Draft from this journal, without a service; nothing is recorded");
    command->add_option("--out", words->out, "The folder for what --journal makes")->needs("--journal");
    command->add_flag("--json", words->as_json, "Print the outcome as JSON");
    command->callback([&call, &exit_code, words] {
        if (words->journal.empty()) return draft_certificates(call, *words, exit_code);
        if (words->out.empty()) words->out = ".";
        draft_from_journal(*words, exit_code);
    });

    CLI::App* listing = app.add_subcommand("certificates", "List the certificates on record");
    const auto as_json = std::make_shared<bool>(false);
    listing->add_flag("--json", *as_json, "Print the list as JSON");
    listing->callback([&call, &exit_code, as_json] { list_certificates(call, *as_json, exit_code); });

    struct Signing {
        std::string number, by;
        bool as_json = false;
    };
    CLI::App* signing = app.add_subcommand("sign", "Sign a drafted certificate, as a reviewer");
    const auto to_sign = std::make_shared<Signing>();
    signing->add_option("CERTIFICATE", to_sign->number, "Number of the certificate")->required();
    signing->add_option("--by", to_sign->by, "Who signs; the login name where not given");
    signing->add_flag("--json", to_sign->as_json, "Print the outcome as JSON");
    signing->callback([&call, &exit_code, to_sign] {
        sign_certificate(call, to_sign->number, to_sign->by, to_sign->as_json, exit_code);
    });
}

} // namespace stillmark::cli
