#pragma once

#include "daemon/bench/gates.hpp"
#include "daemon/decider/decider.hpp"
#include "daemon/gateway/records_look.hpp"
#include "daemon/seal/key.hpp"

#include <boost/asio/io_context.hpp>
#include <nlohmann/json.hpp>

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::gateway {

struct OfficeOptions {
    std::string folder;                  ///< where certificates are kept; made with the first
    std::string memory;                  ///< the file that remembers numbers outside the journal
    std::string journal;                 ///< path of the journal
    std::optional<seal::PrivateKey> key; ///< the laboratory's; without one nothing can be signed
    std::function<void(bool alarm, const std::string& words)> tell;
};

/// Makes drafts and signed certificates: what they say is folded on the deciding thread, the documents are made on a
/// thread of the office's own, and the fact that tells of them is recorded before anybody is told. A signed certificate
/// is in its folder under its number; one whose fact was recorded before the service died, or that could not be put
/// there, is put in place at the next start and before the next certificate. No documents are ever put in the place of
/// others.
class CertificateOffice {
  public:
    CertificateOffice(boost::asio::io_context& deciding, decider::Decider& decider, OfficeOptions options);
    ~CertificateOffice(); ///< waits for the document that is being made
    CertificateOffice(const CertificateOffice&) = delete;
    CertificateOffice& operator=(const CertificateOffice&) = delete;

    /// The commands that it answers: "draft" and "sign"; it answers "certificate_list" too.
    static const std::vector<std::string>& commands();
    static bool takes(const nlohmann::json& request);

    /// Answers one of them; on the deciding thread. `reply` is called once, there too.
    void answer(const nlohmann::json& request, const std::function<void(nlohmann::json)>& reply);

    /// Holds the folder against the journal, and puts in place what was signed and recorded before the service ended.
    void take_up();

  private:
    struct Desk;
    std::shared_ptr<Desk> desk_;
};

/// Every certificate on record, the latest first: {"certificate", "edition", "runs", "instrument", "language",
/// "replaces", "superseded_by", "state": "draft" | "signed", "drafted_by", "drafted_utc_us", "signed_by",
/// "signed_utc_us", "lacking": [records::gate_json], "overridden": [decider::override_json], "expired": [{"run",
/// "certificate"}] of standards that nobody allowed, "documents": [names]}.
nlohmann::json certificate_list(const bench::State& state);

/// What holds a signature: records::gate_json of each.
nlohmann::json gates_json(const std::vector<bench::Gate>& gates);

/// What people must know of the folder: {"code", "certificate", "place", "detail", "words"}.
nlohmann::json findings_list(const std::vector<RecordsFinding>& findings);

/// The folder of a certificate below the office's, and the names of its documents.
std::string folder_of(const bench::RecordedCertificate& certificate);
std::vector<std::string> document_names(const bench::RecordedCertificate& certificate);

} // namespace stillmark::gateway
