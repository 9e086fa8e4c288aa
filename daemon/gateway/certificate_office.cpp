#include "daemon/gateway/certificate_office.hpp"

#include "daemon/bench/certificates.hpp"
#include "daemon/decider/service_facts.hpp"
#include "daemon/gateway/certificate_claims.hpp"
#include "daemon/gateway/request_keys.hpp"
#include "daemon/gateway/requests.hpp"
#include "daemon/records/content.hpp"
#include "daemon/records/documents.hpp"
#include "daemon/records/gates.hpp"

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

constexpr int niceness = 15; // the threads that read the wire come first

constexpr const char* list_command = "certificate_list";
constexpr const char* busy_words = "the service is busy with other certificates; ask again in a moment";

using Reply = std::function<void(json)>;
using Claim = std::shared_ptr<CertificateClaims::Claim>;

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

/// Why the documents of a draft could not be made; empty where they are in their folder.
std::string write_draft(Certificate& said, const std::string& folder) {
    const auto documents = records::documents_of(said, nullptr);
    if (!documents) return documents.error().message;
    const auto written = records::write_folder(folder, *documents);
    return written ? "" : written.error().message;
}

} // namespace

/// The office's inside; work that is on its way holds on to it.
struct CertificateOffice::Desk : std::enable_shared_from_this<Desk> {
    Desk(boost::asio::io_context& its_deciding, decider::Decider& its_decider, OfficeOptions its_options)
        : deciding(its_deciding), decider(its_decider), options(std::move(its_options)) {}

    void draft(const json& request, Claim claim, const Reply& reply);
    void sign(const json& request, Claim claim, const Reply& reply);
    void make_draft(const bench::CertificateDrafted& drafted, Certificate certificate, const json& id, Claim claim,
                    const Reply& reply);
    void make_signed(bench::CertificateSigned signature, Certificate certificate, const json& id, Claim claim,
                     const Reply& reply);
    void run(Claim claim, std::function<std::function<void(const Claim&)>()> work);
    void anchor(records::Proof& proof) const;
    void drop_edition(const bench::CertificateDrafted& draft, std::int64_t edition);
    void look(std::set<std::string> compare, bool at_start, std::function<void()> then);
    void take_findings(RecordsLook seen);
    void put_in_place(const bench::CertificateSigned& fact, json said_back, const Reply& reply);
    std::string objection_to_place(const std::string& number, const std::string& folder) const;
    json list(const json& id);
    std::optional<std::string> trouble_of(const std::string& number) const;
    journal::HighestNumbers numbers_of(const bench::CertificateDrafted& draft) const;
    std::string path(const std::string& name) const { return (fs::path(options.folder) / name).string(); }
    std::string waiting_path(const std::string& number) const { return path(number + ".unrecorded"); }

    boost::asio::io_context& deciding;
    decider::Decider& decider;
    OfficeOptions options;
    CertificateClaims claims;
    RecordsLook seen; ///< the latest look at the folder
    int looking = 0;
    bool closed = false;
    boost::asio::thread_pool pool{1};
};

/// Work on the office's thread; what it gives is done on the deciding thread afterwards, where the claim stays.
void CertificateOffice::Desk::run(Claim claim, std::function<std::function<void(const Claim&)>()> work) {
    boost::asio::post(pool, [self = shared_from_this(), claim = std::move(claim), work = std::move(work)]() mutable {
        (void)::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), niceness);
        auto then = work();
        boost::asio::post(self->deciding, [self, claim = std::move(claim), then = std::move(then)] {
            if (!self->closed) then(claim);
        });
    });
}

/// An earlier edition is of no use any more; that it was there stands in the journal.
void CertificateOffice::Desk::drop_edition(const bench::CertificateDrafted& draft, std::int64_t edition) {
    auto before = draft;
    before.edition = edition;
    boost::asio::post(pool, [folder = path(folder_of({before, {}}))] {
        std::error_code ignored;
        fs::remove_all(folder, ignored);
    });
}

/// Looks at the folder on the office's thread, which also completes what was left half done there; `then` on the
/// deciding thread.
void CertificateOffice::Desk::look(std::set<std::string> compare, bool at_start, std::function<void()> then) {
    const auto& state = decider.state();
    RecordsLookRequest request;
    request.folder = options.folder;
    request.memory = options.memory;
    request.journal = options.journal;
    request.certificates = state.certificates;
    request.busy = claims.numbers();
    request.journal_failed = decider.journal_failed();
    request.at_start = request.compare_all = at_start;
    request.compare = std::move(compare);
    if (state.bench) request.settings = state.bench->records;
    request.utc_us = decider.now_us() + state.utc_offset_us;
    // What was found once is looked at again, so that it is gone once it is mended.
    for (const auto& one : seen.findings)
        request.compare.insert(one.certificate);
    ++looking;
    boost::asio::post(
        pool, [self = shared_from_this(), request = std::move(request), then = std::move(then)]() mutable {
            (void)::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), niceness);
            auto found = look_at_records(request);
            // Handed over whole: a claim that it holds ends on the deciding thread.
            boost::asio::post(self->deciding, [self, found = std::move(found), then = std::exchange(then, nullptr)] {
                --self->looking;
                self->take_findings(found);
                if (!self->closed && then) then();
            });
        });
}

void CertificateOffice::Desk::take_findings(RecordsLook found) {
    if (options.tell) {
        for (const auto& words : found.done)
            options.tell(false, words);
        for (const auto& one : found.findings)
            if (std::ranges::find(seen.findings, one) == seen.findings.end()) options.tell(true, words_of(one));
    }
    seen = std::move(found);
}

/// What keeps the documents of a signed certificate from their place.
std::optional<std::string> CertificateOffice::Desk::trouble_of(const std::string& number) const {
    for (const auto& one : seen.findings)
        if (one.certificate == number) return words_of(one);
    return std::nullopt;
}

/// A draft's number, as the memory file keeps it.
journal::HighestNumbers CertificateOffice::Desk::numbers_of(const bench::CertificateDrafted& draft) const {
    const auto& settings = decider.state().bench->records;
    return highest_numbers({{draft, {}}}, settings, draft.utc_us, {});
}

/// Why documents cannot be put there, which are never put in the place of others; empty: they can.
std::string CertificateOffice::Desk::objection_to_place(const std::string& number, const std::string& folder) const {
    std::error_code error;
    for (const auto& place : {folder, path(number)})
        if (fs::exists(place, error))
            return fmt::format("{}: is there already, with other documents than these of certificate {}. Nothing was "
                               "made or signed, and what is there stays; draft the certificate anew, it gets a number "
                               "or an edition of its own",
                               place, number);
    return {};
}

json CertificateOffice::Desk::list(const json& id) {
    json said{{"id", id},
              {"ok", true},
              {"certificates", certificate_list(decider.state())},
              {"findings", findings_list(seen.findings)}};
    if (!seen.findings.empty() && looking == 0) look({}, false, {});
    return said;
}

void CertificateOffice::Desk::anchor(records::Proof& proof) const {
    const auto& head = decider.journal_head();
    proof.journal_number = head.number;
    proof.journal_digest = head.digest_hex;
    proof.build = decider::this_service().build;
}

void CertificateOffice::Desk::draft(const json& request, Claim claim, const Reply& reply) {
    const json id = request.value("id", json(nullptr));
    Keys keys(request);
    bench::DraftRequest wanted;
    wanted.runs = keys.texts_or_none("runs");
    wanted.instrument = keys.text("instrument");
    wanted.language = keys.text_or("language", "en");
    wanted.replaces = keys.text_or("replaces", "");
    wanted.amended_because = keys.text_or("reason", "");
    wanted.outside = seen.outside;
    const bench::Press press{decider.now_us(), decider.now_us(), keys.text_or("by", ""),
                             keys.yes_or("logged_in", false)};
    if (!keys.wrong().empty()) return reply(malformed(id, keys.wrong()));
    const auto drafted = bench::next_draft(decider.state(), press, wanted);
    if (!drafted)
        return reply(drafted.error().malformed ? malformed(id, drafted.error().why) : refusal(id, drafted.error().why));
    auto certificate = records::certificate_of(decider.state(), *drafted);
    if (!certificate) return reply(refusal(id, certificate.error().message));
    if (!claim->take(drafted->certificate))
        return reply(
            refusal(id, fmt::format("certificate {} is being made already; wait a moment", drafted->certificate)));
    anchor(certificate->proof);
    make_draft(*drafted, std::move(*certificate), id, std::move(claim), reply);
}

void CertificateOffice::Desk::make_draft(const bench::CertificateDrafted& drafted, Certificate certificate,
                                         const json& id, Claim claim, const Reply& reply) {
    const auto* before = bench::certificate_numbered(decider.state(), drafted.certificate);
    const std::int64_t edition_before = before == nullptr ? 0 : before->draft.edition;
    const auto numbers = numbers_of(drafted);
    run(std::move(claim),
        [self = shared_from_this(), drafted, certificate, numbers, edition_before, id,
         reply]() -> std::function<void(const Claim&)> {
            auto fact = drafted;
            auto said = certificate;
            fact.content_sha256 = records::content_digest(said);
            const std::string folder = self->path(folder_of({fact, {}}));
            std::string trouble = self->objection_to_place(fact.certificate, folder);
            if (trouble.empty()) trouble = write_draft(said, folder);
            // Remembered before it is on record: a number that nobody got is lost, none is given again.
            if (trouble.empty())
                if (const auto kept = journal::remember_numbers(self->options.memory, numbers); !kept)
                    trouble = kept.error().message;
            return [self, fact, trouble, folder, edition_before, id, reply,
                    lacking = gates_json(said.lacking)](const Claim& claimed) {
                if (!trouble.empty()) {
                    claimed->release();
                    return reply(refusal(id, trouble));
                }
                self->decider.request(
                    [fact](const bench::State& state, const bench::Moment&) {
                        return bench::record_draft(state, fact);
                    },
                    [self, fact, folder, edition_before, id, reply, lacking, claimed](const decider::Outcome& outcome) {
                        claimed->release();
                        json said_back = outcome_json(id, outcome);
                        if (said_back["ok"] == true) {
                            said_back["certificate"] = fact.certificate;
                            said_back["edition"] = fact.edition;
                            said_back["folder"] = folder;
                            said_back["documents"] = document_names({fact, {}});
                            said_back["lacking"] = lacking;
                            if (edition_before > 0) self->drop_edition(fact, edition_before);
                        }
                        reply(std::move(said_back));
                    });
            };
        });
}

void CertificateOffice::Desk::sign(const json& request, Claim claim, const Reply& reply) {
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
    if (const auto wrong = bench::objection_to_amendment(state, recorded->draft.replaces))
        return reply(refusal(id, *wrong));
    auto certificate = records::certificate_of(state, recorded->draft);
    if (!certificate) return reply(refusal(id, certificate.error().message));
    std::vector<std::string> lacking;
    for (const auto& gate : certificate->lacking)
        lacking.push_back(english(gate));
    if (!lacking.empty())
        return reply(
            refusal(id, fmt::format("certificate {} cannot be signed yet: {}", number, fmt::join(lacking, "; "))));
    if (!claim->take(number))
        return reply(refusal(id, fmt::format("certificate {} is being made already; wait a moment", number)));
    records::Proof proof;
    anchor(proof);
    signature.journal_number = static_cast<std::int64_t>(proof.journal_number);
    signature.journal_digest = proof.journal_digest;
    signature.key = options.key->public_key().fingerprint();
    certificate->proof.build = proof.build;
    make_signed(std::move(signature), std::move(*certificate), id, std::move(claim), reply);
}

void CertificateOffice::Desk::make_signed(bench::CertificateSigned signature, Certificate certificate, const json& id,
                                          Claim claim, const Reply& reply) {
    const auto& draft = bench::certificate_numbered(decider.state(), signature.certificate)->draft;
    const std::string drafted_content = draft.content_sha256;
    const auto numbers = numbers_of(draft);
    run(std::move(claim),
        [self = shared_from_this(), signature, certificate, drafted_content, numbers, id,
         reply]() -> std::function<void(const Claim&)> {
            auto fact = signature;
            auto said = certificate;
            const auto give_up = [id, reply](const std::string& why) {
                return [id, reply, why](const Claim& claimed) {
                    claimed->release();
                    reply(refusal(id, why));
                };
            };
            if (const auto wrong = self->objection_to_place(fact.certificate, self->path(fact.certificate));
                !wrong.empty())
                return give_up(wrong);
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
            if (const auto kept = journal::remember_numbers(self->options.memory, numbers); !kept)
                return give_up(kept.error().message);
            if (const auto written = records::write_folder(self->waiting_path(number), *documents); !written)
                return give_up(written.error().message);
            return [self, fact, id, reply](const Claim& claimed) {
                self->decider.request([fact](const bench::State& state,
                                             const bench::Moment&) { return bench::record_signature(state, fact); },
                                      [self, fact, id, reply, claimed](const decider::Outcome& outcome) {
                                          claimed->release();
                                          json said_back = outcome_json(id, outcome);
                                          if (said_back["ok"] != true) {
                                              self->look({}, false, {}); // takes the documents away again
                                              return reply(std::move(said_back));
                                          }
                                          self->put_in_place(fact, std::move(said_back), reply);
                                      });
            };
        });
}

/// The signature is on record: its documents get the certificate's name, and the reply says where they are.
void CertificateOffice::Desk::put_in_place(const bench::CertificateSigned& fact, json said_back, const Reply& reply) {
    look({fact.certificate}, false,
         [self = shared_from_this(), fact, said_back = std::move(said_back), reply]() mutable {
             const auto& name = fact.certificate;
             const auto* recorded = bench::certificate_numbered(self->decider.state(), name);
             const auto trouble = self->trouble_of(name);
             said_back["certificate"] = name;
             said_back["folder"] = trouble ? self->waiting_path(name) : self->path(name);
             said_back["trouble"] = trouble ? json(*trouble) : json(nullptr);
             if (recorded != nullptr) said_back["documents"] = document_names(*recorded);
             said_back["pdf_sha256"] = fact.pdf_sha256;
             said_back["xml_sha256"] = fact.xml_sha256;
             reply(std::move(said_back));
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
           (*what == list_command || std::ranges::find(commands(), what->get<std::string>()) != commands().end());
}

void CertificateOffice::answer(const json& request, const Reply& reply) {
    // What a certificate says is told to people, so it may rest on nothing that is not on disk yet.
    const json id = request.value("id", json(nullptr));
    const auto what = request.value("do", "");
    if (what == list_command) {
        if (const Keys keys(request); !keys.wrong().empty()) return reply(malformed(id, keys.wrong()));
        return desk_->decider.when_all_on_disk([desk = desk_, id, reply](bool) { reply(desk->list(id)); });
    }
    auto claim = desk_->claims.claim();
    if (claim == nullptr) return reply(refusal(id, busy_words));
    desk_->look({}, false, [desk = desk_, request, id, what, claim = std::move(claim), reply] {
        desk->decider.when_all_on_disk([desk, request, id, what, claim, reply](bool kept) {
            if (!kept) return reply(not_recorded(id, "the journal cannot be written; nothing was recorded"));
            for (const auto& one : desk->seen.findings)
                if (one.code == RecordsFinding::Code::memory_unreadable) return reply(refusal(id, words_of(one)));
            if (what == "sign")
                desk->sign(request, claim, reply);
            else
                desk->draft(request, claim, reply);
        });
    });
}

void CertificateOffice::take_up() {
    desk_->look({}, true, {});
}

} // namespace stillmark::gateway
