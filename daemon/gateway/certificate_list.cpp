#include "daemon/bench/certificates.hpp"
#include "daemon/decider/frame.hpp"
#include "daemon/gateway/certificate_office.hpp"
#include "daemon/records/content.hpp"
#include "daemon/records/gates.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

json lacking_json(const bench::State& state, const bench::CertificateDrafted& draft) {
    const auto certificate = records::certificate_of(state, draft);
    return gates_json(certificate ? certificate->lacking
                                  : bench::lacking_for_certificate(state, draft.runs, draft.instrument));
}

json overridden_json(const bench::State& state, const bench::CertificateDrafted& draft) {
    json list = json::array();
    for (const auto& one : state.overridden)
        if (one.instrument == draft.instrument &&
            (one.run.empty() || std::ranges::find(draft.runs, one.run) != draft.runs.end()))
            list.push_back(decider::override_json(one));
    return list;
}

} // namespace

json gates_json(const std::vector<bench::Gate>& gates) {
    json list = json::array();
    for (const auto& gate : gates)
        list.push_back(records::gate_json(gate));
    return list;
}

std::string folder_of(const bench::RecordedCertificate& certificate) {
    const auto& draft = certificate.draft;
    return certificate.signature ? draft.certificate : fmt::format("{}-draft-{}", draft.certificate, draft.edition);
}

std::vector<std::string> document_names(const bench::RecordedCertificate& certificate) {
    const std::string& number = certificate.draft.certificate;
    std::vector<std::string> names;
    for (const char* end : {".pdf", ".xml", ".json", ".csv", "-points.csv"})
        names.push_back(number + end);
    if (certificate.signature)
        for (const char* end : {".pdf.sig", ".xml.sig"})
            names.push_back(number + end);
    return names;
}

json findings_list(const std::vector<RecordsFinding>& findings) {
    json list = json::array();
    for (const auto& one : findings) {
        const auto text = [](const std::string& words) { return words.empty() ? json(nullptr) : json(words); };
        list.push_back({{"code", word(one.code)},
                        {"certificate", text(one.certificate)},
                        {"place", one.place},
                        {"detail", text(one.detail)},
                        {"words", words_of(one)}});
    }
    return list;
}

json certificate_list(const bench::State& state) {
    json list = json::array();
    for (auto one = state.certificates.rbegin(); one != state.certificates.rend(); ++one) {
        const auto& draft = one->draft;
        const auto& signature = one->signature;
        const auto* newer = bench::amendment_of(state, draft.certificate);
        json expired = json::array();
        if (!signature)
            for (const auto& [run, standard] : bench::expired_and_not_allowed(state, draft.runs))
                expired.push_back({{"run", run}, {"certificate", standard}});
        const auto text = [](const std::string& words) { return words.empty() ? json(nullptr) : json(words); };
        list.push_back({{"certificate", draft.certificate},
                        {"edition", draft.edition},
                        {"runs", draft.runs},
                        {"instrument", draft.instrument},
                        {"language", draft.language},
                        {"replaces", text(draft.replaces)},
                        {"amended_because", text(draft.amended_because)},
                        {"superseded_by", newer == nullptr ? json(nullptr) : json(newer->draft.certificate)},
                        {"state", signature ? "signed" : "draft"},
                        {"drafted_by", text(draft.by)},
                        {"drafted_utc_us", draft.utc_us},
                        {"signed_by", signature ? json(signature->by) : json(nullptr)},
                        {"signed_utc_us", signature ? json(signature->utc_us) : json(nullptr)},
                        {"pdf_sha256", signature ? json(signature->pdf_sha256) : json(nullptr)},
                        {"xml_sha256", signature ? json(signature->xml_sha256) : json(nullptr)},
                        {"lacking", signature ? json::array() : lacking_json(state, draft)},
                        {"overridden", overridden_json(state, draft)},
                        {"expired", std::move(expired)},
                        {"documents", document_names(*one)}});
    }
    return list;
}

} // namespace stillmark::gateway
