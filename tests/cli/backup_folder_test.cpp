#include "daemon/bench/event.hpp"
#include "daemon/cli/backup_folder.hpp"
#include "daemon/cli/verify_documents.hpp"
#include "daemon/journal/memory.hpp"
#include "daemon/records/digital/digital.hpp"
#include "daemon/seal/key.hpp"
#include "journal/scratch.hpp"
#include "records/sample.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

namespace stillmark::cli::testing {
namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

void put(const fs::path& path, const std::string& text) {
    fs::create_directories(path.parent_path());
    std::ofstream(path, std::ios::binary) << text;
}

/// A journal with one signed certificate on record, invented, and its documents beside it.
class Issued : public ::testing::Test {
  protected:
    Issued() : key_(seal::PrivateKey::load_or_make(path("x.journal.key")).value()) {
        journal::testing::Told told;
        auto sinks = told.sinks();
        sinks.durable = [this, noted = sinks.durable](std::uint64_t number, const seal::Digest& digest) {
            digest_ = seal::hex(digest);
            noted(number, digest);
        };
        auto writer = journal::JournalWriter::open(journal_, std::move(sinks), {}, key_).value();
        const auto record = [&](const bench::Fact& fact) {
            EXPECT_TRUE(writer->append(journal::EventRecord{++number_, 1, bench::to_text(fact)}));
            EXPECT_TRUE(told.wait_durable(number_));
        };
        record(bench::ServiceStarted{});
        bench::CertificateDrafted draft;
        draft.certificate = "INV-2026-0001";
        record(draft);
        bench::CertificateSigned signature;
        signature.certificate = draft.certificate;
        signature.by = "invented reviewer";
        document(records_, draft.certificate, static_cast<std::int64_t>(number_), digest_);
        signature.pdf_sha256 = seal::hex(seal::sha256(std::string("paper")));
        signature.xml_sha256 = seal::hex(seal::sha256(text_of(fs::path(records_) / "INV-2026-0001/INV-2026-0001.xml")));
        record(signature);
        EXPECT_TRUE(journal::remember_numbers(path("x.journal.key.memory"), {{"INV-2026-{count}", 1}}));
    }

    std::string path(const std::string& name) const { return scratch_.file(name); }
    void document(const std::string& records, const std::string& number, std::int64_t at, const std::string& digest,
                  const std::string& replaces = "") {
        auto said = sample::certificate(1);
        said.number = number;
        said.draft = false;
        said.replaces = replaces;
        said.amended_because = replaces.empty() ? "" : "invented";
        said.proof.journal_number = static_cast<std::uint64_t>(at);
        said.proof.journal_digest = digest;
        const auto xml = records::dcc_xml(said).value();
        const auto signature = key_.sign(seal::bytes_of(xml)).value();
        const auto folder = fs::path(records) / number;
        put(folder / (number + ".xml"), xml);
        put(folder / (number + ".xml.sig"), {signature.begin(), signature.end()});
        put(folder / (number + ".pdf"), "paper");
    }
    BackupRequest backup() const { return {journal_, path("x.journal.key"), records_, "", path("backup")}; }
    RestoreRequest restore(const std::string& from = "backup") const {
        return {path(from), path("y.journal"), path("y.journal.key"), path("y.journal.records")};
    }
    std::vector<std::string> reasons(const RestoreRequest& request) const {
        const auto done = restore_backup(request);
        return done ? std::vector<std::string>{} : done.error().reasons;
    }

    journal::testing::Scratch scratch_;
    std::string journal_ = scratch_.file("x.journal");
    std::string records_ = scratch_.file("x.journal.records");
    seal::PrivateKey key_;
    std::string digest_;
    std::uint64_t number_ = 0;
};

TEST_F(Issued, ABackupIsRestoredWhole) {
    const auto made = make_backup(backup());
    ASSERT_TRUE(made) << (made ? "" : made.error().message);
    EXPECT_TRUE(made->told.content_is_as_stored());
    EXPECT_FALSE(make_backup(backup())) << "a folder that is there stays as it is";
    for (const auto& file : fs::recursive_directory_iterator(path("backup"))) {
        if (!file.is_regular_file()) continue;
        EXPECT_EQ(text_of(file.path()).find("PRIVATE KEY"), std::string::npos) << file.path();
    }
    const auto done = restore_backup(restore());
    ASSERT_TRUE(done) << (done ? "" : done.error().reasons.front());
    EXPECT_EQ(done->written, 3U);
    EXPECT_EQ(text_of(path("y.journal.records/INV-2026-0001/INV-2026-0001.pdf")), "paper");
    EXPECT_EQ(text_of(done->old_public_key), text_of(path("x.journal.key.pub")));
    EXPECT_EQ(*journal::remembered_numbers(path("y.journal.key.memory")),
              (journal::HighestNumbers{{"INV-2026-{count}", 1}}));
    EXPECT_EQ(text_of(path("y.journal")), text_of(path("backup/journal")));
    EXPECT_NE(reasons(restore()).at(0).find(path("y.journal") + ": is there already"), std::string::npos);
}

TEST_F(Issued, ABackupNamesDocumentsThatItLacks) {
    fs::remove_all(records_);
    const auto made = make_backup(backup());
    ASSERT_TRUE(made);
    const auto& list = made->manifest.left_out;
    EXPECT_TRUE(std::any_of(list.begin(), list.end(), [](const LeftOut& one) {
        return one.what == "the documents of certificate INV-2026-0001";
    }));
}

TEST_F(Issued, NothingIsWrittenOverAndNoMemoryIsLowered) {
    ASSERT_TRUE(make_backup(backup()));
    put(path("y.journal.records/INV-2026-0001/INV-2026-0001.pdf"), "of somebody");
    const auto refused = reasons(restore());
    ASSERT_EQ(refused.size(), 1U);
    EXPECT_NE(refused[0].find("INV-2026-0001.pdf: is there already, and is not the document of the back-up"),
              std::string::npos);
    EXPECT_FALSE(fs::exists(path("y.journal")));
    put(path("y.journal.records/INV-2026-0001/INV-2026-0001.pdf"), "paper");
    ASSERT_TRUE(journal::remember_numbers(path("y.journal.key.memory"), {{"INV-2026-{count}", 9}}));
    const auto done = restore_backup(restore());
    ASSERT_TRUE(done);
    EXPECT_EQ(done->kept, 1U);
    EXPECT_EQ(*journal::remembered_numbers(path("y.journal.key.memory")),
              (journal::HighestNumbers{{"INV-2026-{count}", 9}}));
}

TEST_F(Issued, ABackupThatIsNotWhatWasWrittenIsRefused) {
    ASSERT_TRUE(make_backup(backup()));
    put(path("backup/records/INV-2026-0001/INV-2026-0001.pdf"), "forged");
    fs::remove(path("backup/memory.json"));
    EXPECT_EQ(reasons(restore()).size(), 2U) << "all of it at once";
    EXPECT_TRUE(restore_backup(restore()).error().is_damaged);
    EXPECT_FALSE(fs::exists(path("y.journal.records")));
    // The journal altered, and the manifest made to fit.
    fs::remove_all(path("backup"));
    ASSERT_TRUE(make_backup(backup()));
    journal::testing::sql(path("backup/journal"), "UPDATE events SET at_us = 2 WHERE number = 1");
    auto manifest = manifest_in(path("backup")).value();
    for (auto& file : manifest.files)
        if (file.path == "journal") file.content = seal::content_of(path("backup/journal")).value();
    put(path("backup/manifest.json"), manifest_text(manifest));
    EXPECT_NE(reasons(restore()).at(0).find("event 1: it is not what was written"), std::string::npos);
    EXPECT_FALSE(fs::exists(path("y.journal")));
}

TEST_F(Issued, AJournalOutlivesAKey) {
    // The service went on with a new key, as after a restore without the old one.
    fs::rename(path("x.journal.key"), path("old.key"));
    key_ = seal::PrivateKey::load_or_make(path("x.journal.key")).value();
    ASSERT_TRUE(make_backup(backup()));
    EXPECT_NE(reasons(restore()).at(0).find("nothing in it is signed with the key"), std::string::npos);
    {
        journal::testing::Told told;
        auto writer = journal::JournalWriter::open(journal_, told.sinks(), {}, key_).value();
        ASSERT_TRUE(writer->append(journal::testing::event(++number_, bench::to_text(bench::ServiceStarted{}))));
        ASSERT_TRUE(told.wait_durable(number_));
    }
    fs::remove_all(path("backup"));
    ASSERT_TRUE(make_backup(backup()));
    EXPECT_EQ(reasons(restore()), std::vector<std::string>{});
}

TEST_F(Issued, AManifestLeadsNowhereElse) {
    EXPECT_TRUE(stays_below("records/INV-1/INV-1.pdf"));
    for (const char* wrong : {"", "/etc/passwd", "..", "a/../../b", "./a", "a//", "../a"})
        EXPECT_FALSE(stays_below(wrong)) << wrong;
    ASSERT_TRUE(make_backup(backup()));
    auto manifest = manifest_in(path("backup")).value();
    manifest.files.push_back({"records/../../x", {}});
    put(path("backup/manifest.json"), manifest_text(manifest));
    EXPECT_NE(reasons(restore()).at(0).find("names a file that cannot be of a back-up"), std::string::npos);
}

TEST_F(Issued, DocumentsBesideAreAnchors) {
    auto beside = documents_beside(records_, {key_.public_key()});
    ASSERT_EQ(beside.anchors().size(), 1U);
    EXPECT_EQ(beside.anchors()[0].certificate, "INV-2026-0001");
    EXPECT_EQ(beside.anchors()[0].number, 2);
    ASSERT_TRUE(compare_with_journal(beside, journal_, 3));
    EXPECT_TRUE(beside.findings.empty());
    // Another key's is no anchor.
    beside = documents_beside(records_, {seal::PrivateKey::make().value().public_key()});
    EXPECT_TRUE(beside.anchors().empty());
    EXPECT_EQ(beside.findings.size(), 1U);
    // A certificate that this journal never signed.
    document(records_, "INV-2026-0002", 2, digest_, "INV-2026-0001");
    beside = documents_beside(records_, {});
    ASSERT_TRUE(compare_with_journal(beside, journal_, 3));
    ASSERT_EQ(beside.findings.size(), 1U);
    EXPECT_NE(beside.findings[0].find("certificate INV-2026-0002 is signed, and the journal has no signature of it"),
              std::string::npos);
    // Other documents under a number that it knows.
    fs::remove_all(fs::path(records_) / "INV-2026-0002");
    put(fs::path(records_) / "INV-2026-0001/INV-2026-0001.pdf", "other paper");
    beside = documents_beside(records_, {});
    ASSERT_TRUE(compare_with_journal(beside, journal_, 3));
    ASSERT_EQ(beside.findings.size(), 1U);
    EXPECT_NE(beside.findings[0].find("are not those that were signed"), std::string::npos);
    fs::remove_all(fs::path(records_) / "INV-2026-0001");
    beside = documents_beside(records_, {});
    ASSERT_TRUE(compare_with_journal(beside, journal_, 3));
    EXPECT_EQ(beside.without_folder, std::vector<std::string>{"INV-2026-0001"});
}

TEST_F(Issued, OnlySignedDocumentsSayWhatTheyAmend) {
    document(records_, "INV-2026-0002", 2, digest_, "INV-2026-0001");
    const std::vector<seal::PublicKey> keys{key_.public_key()};
    EXPECT_EQ(amended_beside(records_, "INV-2026-0001", keys), "INV-2026-0002");
    EXPECT_EQ(amended_beside(records_, "INV-2026-0002", keys), std::nullopt);
    put(fs::path(records_) / "INV-2026-0002/INV-2026-0002.xml.sig", "forged");
    EXPECT_EQ(amended_beside(records_, "INV-2026-0001", keys), std::nullopt);
}

} // namespace
} // namespace stillmark::cli::testing
