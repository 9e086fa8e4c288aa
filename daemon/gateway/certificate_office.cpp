#include "daemon/gateway/certificate_office.hpp"

#include "daemon/bench/certificates.hpp"
#include "daemon/decider/service_facts.hpp"
#include "daemon/gateway/request_keys.hpp"
#include "daemon/gateway/requests.hpp"
#include "daemon/records/content.hpp"
#include "daemon/records/documents.hpp"

#include <boost/asio/post.hpp>
#include <boost/asio/thread_pool.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>
#include <set>
#include <sys/resource.h>
#include <unistd.h>

namespace stillmark::gateway {

using nlohmann::json;
using records::Certificate;

namespace {

namespace fs = std::filesystem;

constexpr int most_waiting = 8;
constexpr int niceness = 15; // the threads that read the wire come first

using Reply = std::function<void(json)>;

json refusal(const json& id, const std::string& why) {
    return {{"id", id}, {"ok", false}, {"code", "refused"}, {"error", why}};
}

json not_recorded(const json& id, const std::string& why) {
    return {{"id", id}, {"ok", false}, {"code", "not_recorded"}, {"error", why}};
}

json outcome_json(const json& id, const decider::Outcome& outcome) {
    using Kind = decider::Outcome::Kind;
    if (outcome.kind == Kind::recorded) return {{"id", id}, {"ok", true}};
    if (outcome.kind == Kind::refused) return refusal(id, outcome.why);
    return outcome.kind == Kind::malformed ? malformed(id, outcome.why) : not_recorded(id, outcome.why);
}

} // namespace

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

json certificate_list(const bench::State& state) {
    json list = json::array();
    for (auto one = state.certificates.rbegin(); one != state.certificates.rend(); ++one) {
        const auto& draft = one->draft;
        const auto& signature = one->signature;
        json expired = json::array();
        if (!signature)
            for (const auto& [run, standard] : bench::expired_and_not_allowed(state, draft.runs))
                expired.push_back({{"run", run}, {"certificate", standard}});
        const auto text = [](const std::string& words) { return words.empty() ? json(nullptr) : json(words); };
        list.push_back(
            {{"certificate", draft.certificate},
             {"edition", draft.edition},
             {"runs", draft.runs},
             {"instrument", draft.instrument},
             {"language", draft.language},
             {"replaces", text(draft.replaces)},
             {"amended_because", text(draft.amended_because)},
             {"state", signature ? "signed" : "draft"},
             {"drafted_by", text(draft.by)},
             {"drafted_utc_us", draft.utc_us},
             {"signed_by", signature ? json(signature->by) : json(nullptr)},
             {"signed_utc_us", signature ? json(signature->utc_us) : json(nullptr)},
             {"pdf_sha256", signature ? json(signature->pdf_sha256) : json(nullptr)},
             {"xml_sha256", signature ? json(signature->xml_sha256) : json(nullptr)},
             {"lacking",
              signature ? json::array() : json(bench::lacking_for_certificate(state, draft.runs, draft.instrument))},
             {"expired", std::move(expired)},
             {"documents", document_names(*one)}});
    }
    return list;
}

/// The office's inside; work that is on its way holds on to it.
struct CertificateOffice::Desk : std::enable_shared_from_this<Desk> {
    Desk(boost::asio::io_context& its_deciding, decider::Decider& its_decider, OfficeOptions its_options)
        : deciding(its_deciding), decider(its_decider), options(std::move(its_options)) {}

    void draft(const json& request, const Reply& reply);
    void sign(const json& request, const Reply& reply);
    void make_draft(const bench::CertificateDrafted& drafted, Certificate certificate, const json& id,
                    const Reply& reply);
    void make_signed(bench::CertificateSigned signature, Certificate certificate, const json& id, const Reply& reply);
    void run(const json& id, const Reply& reply, std::function<std::function<void()>()> work);
    void anchor(records::Proof& proof) const;
    void drop_edition_before(const bench::CertificateDrafted& draft);
    void put_in_place(const std::string& number, std::function<void()> then);
    std::string path(const std::string& name) const { return (fs::path(options.folder) / name).string(); }
    std::string waiting_path(const std::string& number) const { return path(number + ".unrecorded"); }

    boost::asio::io_context& deciding;
    decider::Decider& decider;
    OfficeOptions options;
    std::set<std::string> busy; ///< certificates that documents are being made of
    int waiting = 0;
    bool closed = false;
    boost::asio::thread_pool pool{1};
};

/// Work on the office's thread; what it gives is done on the deciding thread afterwards.
void CertificateOffice::Desk::run(const json& id, const Reply& reply, std::function<std::function<void()>()> work) {
    if (waiting >= most_waiting)
        return reply(refusal(id, "the office is busy with other certificates; ask again in a moment"));
    ++waiting;
    boost::asio::post(pool, [self = shared_from_this(), work = std::move(work)] {
        (void)::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), niceness);
        auto then = work();
        boost::asio::post(self->deciding, [self, then = std::move(then)] {
            --self->waiting;
            if (!self->closed) then();
        });
    });
}

/// An earlier edition is of no use any more; that it was there stands in the journal.
void CertificateOffice::Desk::drop_edition_before(const bench::CertificateDrafted& draft) {
    auto before = draft;
    --before.edition;
    boost::asio::post(pool, [folder = path(folder_of({before, {}}))] {
        std::error_code ignored;
        fs::remove_all(folder, ignored);
    });
}

/// The signature is on record: its documents get the certificate's name.
void CertificateOffice::Desk::put_in_place(const std::string& number, std::function<void()> then) {
    boost::asio::post(pool, [self = shared_from_this(), number, then = std::move(then)] {
        std::error_code ignored;
        if (!fs::exists(self->path(number), ignored) && fs::exists(self->waiting_path(number), ignored)) {
            const auto put = records::rename_folder(self->waiting_path(number), self->path(number));
            if (!put && self->options.tell) self->options.tell(true, put.error().message);
        }
        boost::asio::post(self->deciding, then);
    });
}

void CertificateOffice::Desk::anchor(records::Proof& proof) const {
    const auto& head = decider.journal_head();
    proof.journal_number = head.number;
    proof.journal_digest = head.digest_hex;
    proof.build = decider::this_service().build;
}

void CertificateOffice::Desk::draft(const json& request, const Reply& reply) {
    const json id = request.value("id", json(nullptr));
    Keys keys(request);
    bench::DraftRequest wanted;
    wanted.runs = keys.texts_or_none("runs");
    wanted.instrument = keys.text("instrument");
    wanted.language = keys.text_or("language", "en");
    wanted.replaces = keys.text_or("replaces", "");
    wanted.amended_because = keys.text_or("reason", "");
    const bench::Press press{decider.now_us(), decider.now_us(), keys.text_or("by", ""),
                             keys.yes_or("logged_in", false)};
    if (!keys.wrong().empty()) return reply(malformed(id, keys.wrong()));
    const auto drafted = bench::next_draft(decider.state(), press, wanted);
    if (!drafted)
        return reply(drafted.error().malformed ? malformed(id, drafted.error().why) : refusal(id, drafted.error().why));
    auto certificate = records::certificate_of(decider.state(), *drafted);
    if (!certificate) return reply(refusal(id, certificate.error().message));
    if (busy.contains(drafted->certificate))
        return reply(
            refusal(id, fmt::format("certificate {} is being made already; wait a moment", drafted->certificate)));
    anchor(certificate->proof);
    make_draft(*drafted, std::move(*certificate), id, reply);
}

void CertificateOffice::Desk::make_draft(const bench::CertificateDrafted& drafted, Certificate certificate,
                                         const json& id, const Reply& reply) {
    busy.insert(drafted.certificate);
    run(id, reply, [self = shared_from_this(), drafted, certificate, id, reply]() -> std::function<void()> {
        auto fact = drafted;
        auto said = certificate;
        fact.content_sha256 = records::content_digest(said);
        const auto documents = records::documents_of(said, nullptr);
        std::string trouble = documents ? "" : documents.error().message;
        const std::string folder = self->path(folder_of({fact, {}}));
        if (documents)
            if (const auto written = records::write_folder(folder, *documents); !written)
                trouble = written.error().message;
        return [self, fact, trouble, folder, id, reply, lacking = said.lacking] {
            if (!trouble.empty()) {
                self->busy.erase(fact.certificate);
                return reply(refusal(id, trouble));
            }
            self->decider.request(
                [fact](const bench::State& state, Micros) { return bench::record_draft(state, fact); },
                [self, fact, folder, id, reply, lacking](const decider::Outcome& outcome) {
                    self->busy.erase(fact.certificate);
                    json said_back = outcome_json(id, outcome);
                    if (said_back["ok"] == true) {
                        said_back["certificate"] = fact.certificate;
                        said_back["edition"] = fact.edition;
                        said_back["folder"] = folder;
                        said_back["documents"] = document_names({fact, {}});
                        said_back["lacking"] = lacking;
                        if (fact.edition > 1) self->drop_edition_before(fact);
                    }
                    reply(std::move(said_back));
                });
        };
    });
}

void CertificateOffice::Desk::sign(const json& request, const Reply& reply) {
    const json id = request.value("id", json(nullptr));
    Keys keys(request);
    const auto number = keys.text("certificate");
    bench::CertificateSigned signature;
    signature.certificate = number;
    signature.by = keys.text_or("by", "");
    signature.logged_in = keys.yes_or("logged_in", false);
    if (!keys.wrong().empty()) return reply(malformed(id, keys.wrong()));
    const auto& state = decider.state();
    const auto* recorded = bench::certificate_numbered(state, number);
    if (recorded == nullptr)
        return reply(refusal(id, fmt::format("there is no draft \"{}\"; see the list of certificates", number)));
    signature.edition = recorded->draft.edition;
    signature.utc_us = decider.now_us() + state.utc_offset_us;
    if (!options.key) return reply(refusal(id, "the service has no key to sign with; start it with --key FILE"));
    if (const auto wrong = bench::objection_to_signer(state, *recorded, signature.by))
        return reply(refusal(id, *wrong));
    auto certificate = records::certificate_of(state, recorded->draft);
    if (!certificate) return reply(refusal(id, certificate.error().message));
    if (!certificate->lacking.empty())
        return reply(refusal(
            id, fmt::format("certificate {} cannot be signed yet: {}", number, fmt::join(certificate->lacking, "; "))));
    if (busy.contains(number))
        return reply(refusal(id, fmt::format("certificate {} is being made already; wait a moment", number)));
    records::Proof proof;
    anchor(proof);
    signature.journal_number = static_cast<std::int64_t>(proof.journal_number);
    signature.journal_digest = proof.journal_digest;
    signature.key = options.key->public_key().fingerprint();
    certificate->proof.build = proof.build;
    make_signed(std::move(signature), std::move(*certificate), id, reply);
}

void CertificateOffice::Desk::make_signed(bench::CertificateSigned signature, Certificate certificate, const json& id,
                                          const Reply& reply) {
    busy.insert(signature.certificate);
    const std::string drafted_content =
        bench::certificate_numbered(decider.state(), signature.certificate)->draft.content_sha256;
    run(id, reply,
        [self = shared_from_this(), signature, certificate, drafted_content, id, reply]() -> std::function<void()> {
            auto fact = signature;
            auto said = certificate;
            const auto give_up = [self, fact, id, reply](const std::string& why) {
                return [self, fact, id, reply, why] {
                    self->busy.erase(fact.certificate);
                    reply(refusal(id, why));
                };
            };
            if (records::content_digest(said) != drafted_content)
                return give_up(
                    fmt::format("what certificate {} says has changed since it was drafted; draft it again and "
                                "look at it",
                                fact.certificate));
            records::put_signature(said, fact);
            const auto documents = records::documents_of(said, &*self->options.key);
            if (!documents) return give_up(documents.error().message);
            const auto& number = fact.certificate;
            fact.pdf_sha256 = seal::hex(seal::sha256(documents->at(number + ".pdf")));
            fact.xml_sha256 = seal::hex(seal::sha256(documents->at(number + ".xml")));
            if (const auto written = records::write_folder(self->waiting_path(number), *documents); !written)
                return give_up(written.error().message);
            return [self, fact, id, reply] {
                self->decider.request(
                    [fact](const bench::State& state, Micros) { return bench::record_signature(state, fact); },
                    [self, fact, id, reply](const decider::Outcome& outcome) {
                        self->busy.erase(fact.certificate);
                        json said_back = outcome_json(id, outcome);
                        if (said_back["ok"] != true) return reply(std::move(said_back));
                        const auto& name = fact.certificate;
                        const auto* recorded = bench::certificate_numbered(self->decider.state(), name);
                        said_back["certificate"] = name;
                        said_back["folder"] = self->path(name);
                        if (recorded != nullptr) said_back["documents"] = document_names(*recorded);
                        said_back["pdf_sha256"] = fact.pdf_sha256;
                        said_back["xml_sha256"] = fact.xml_sha256;
                        self->put_in_place(name, [reply, said_back] { reply(said_back); });
                    });
            };
        });
}

CertificateOffice::CertificateOffice(boost::asio::io_context& deciding, decider::Decider& decider,
                                     OfficeOptions options)
    : desk_(std::make_shared<Desk>(deciding, decider, std::move(options))) {}

CertificateOffice::~CertificateOffice() {
    desk_->closed = true;
    desk_->pool.join();
}

const std::vector<std::string>& CertificateOffice::commands() {
    static const std::vector<std::string> names{"draft", "sign"};
    return names;
}

bool CertificateOffice::takes(const json& request) {
    const auto what = request.find("do");
    return what != request.end() && what->is_string() &&
           std::ranges::find(commands(), what->get<std::string>()) != commands().end();
}

void CertificateOffice::answer(const json& request, const Reply& reply) {
    // What a certificate says is told to people, so it may rest on nothing that is not on disk yet.
    desk_->decider.when_all_on_disk([desk = desk_, request, reply](bool kept) {
        const json id = request.value("id", json(nullptr));
        if (!kept) return reply(not_recorded(id, "the journal cannot be written; nothing was recorded"));
        if (request.value("do", "") == "sign")
            desk->sign(request, reply);
        else
            desk->draft(request, reply);
    });
}

void CertificateOffice::take_up() {
    for (const auto& one : desk_->decider.state().certificates)
        if (one.signature) desk_->put_in_place(one.draft.certificate, [] {});
}

} // namespace stillmark::gateway
