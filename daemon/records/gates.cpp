#include "daemon/records/gates.hpp"

#include "daemon/bench/written_text.hpp"
#include "daemon/records/content.hpp"
#include "daemon/records/print/typeface.hpp"
#include "daemon/records/tables.hpp"
#include "daemon/seal/digest.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace stillmark::records {

using nlohmann::json;

namespace {

std::string codes_of(const std::set<char32_t>& characters) {
    constexpr std::size_t most = 8;
    std::string codes;
    std::size_t count = 0;
    for (const char32_t one : characters) {
        if (++count > most) return codes + " ...";
        codes += fmt::format("{}U+{:04X}", codes.empty() ? "" : " ", static_cast<std::uint32_t>(one));
    }
    return codes;
}

/// What a person can read of a text, and not too much of it.
std::string beginning_of(const std::string& text) {
    constexpr std::size_t longest = 60;
    std::string shown = print::with_codes_for_unprintable(text);
    if (shown.size() <= longest) return shown;
    std::size_t end = longest;
    while (end > 0 && (static_cast<unsigned char>(shown[end]) & 0xC0U) == 0x80U)
        --end;
    return shown.substr(0, end) + "...";
}

} // namespace

std::vector<bench::Gate> character_gates(const Certificate& certificate) {
    using metrology::sentence;
    using metrology::text_value;
    std::vector<bench::Gate> list;
    const json texts = json::parse(json_of(certificate), nullptr, false).flatten();
    for (const auto& [place, leaf] : texts.items()) {
        const auto* text = leaf.get_ptr<const std::string*>();
        if (text == nullptr) continue;
        const auto found = print::unprintable_in(*text);
        if (found.empty()) continue;
        constexpr std::size_t digits = 8;
        list.push_back({bench::GateCode::characters_not_printable,
                        certificate.results.empty() ? "" : certificate.results.back().run,
                        place + " " + seal::hex(seal::sha256(*text)).substr(0, digits),
                        sentence("\"{text}\" ({place}) has characters that cannot be printed: {codes}",
                                 {text_value("text", beginning_of(*text)), text_value("place", place),
                                  text_value("codes", codes_of(found))}),
                        sentence("state the text without them, or a reviewer overrides this with a reason"), true});
    }
    return list;
}

std::vector<bench::Gate> gates_before_signature(const bench::State& state, const bench::CertificateDrafted& draft) {
    const auto certificate = certificate_of(state, draft);
    if (!certificate) return {};
    auto list = certificate->lacking;
    for (const Overridden& one : certificate->overridden)
        if (!one.at_bench) list.push_back(one.gate);
    return list;
}

json gate_json(const bench::Gate& gate) {
    json values = json::object();
    for (const auto& value : gate.found.values)
        values[value.name] =
            bench::readable_text(metrology::english(metrology::Sentence{"{" + value.name + "}", {value}}));
    return {{"code", bench::word(gate.code)},
            {"run", gate.run.empty() ? json(nullptr) : json(bench::readable_text(gate.run))},
            {"subject", bench::readable_text(gate.subject)},
            {"values", std::move(values)},
            {"words", bench::readable_text(bench::english(gate))},
            {"overridable", gate.overridable}};
}

} // namespace stillmark::records
