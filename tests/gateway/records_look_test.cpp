#include "daemon/gateway/records_look.hpp"
#include "daemon/journal/memory.hpp"
#include "daemon/records/digital/digital.hpp"
#include "daemon/records/issued_documents.hpp"
#include "journal/scratch.hpp"
#include "records/sample.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

namespace stillmark::gateway::testing {
namespace {

namespace fs = std::filesystem;
using Code = RecordsFinding::Code;

/// A folder of certificates beside a journal of one link, in which documents of invented certificates are put.
class Records : public ::testing::Test {
  protected:
    Records() {
        journal::testing::Told told;
        auto sinks = told.sinks();
        sinks.durable = [this, noted = sinks.durable](std::uint64_t number, const seal::Digest& digest) {
            digest_ = seal::hex(digest);
            noted(number, digest);
        };
        auto opened = journal::JournalWriter::open(scratch_.file(), std::move(sinks)).value();
        EXPECT_TRUE(opened->append(journal::testing::event(7)));
        EXPECT_TRUE(told.wait_durable(7));
        opened.reset();
        fs::create_directories(records());
        request_.folder = records();
        request_.memory = scratch_.file("x.journal.key.memory");
        request_.journal = scratch_.file();
        request_.settings.numbering = "INV-{year}-{count}";
        request_.utc_us = 1'790'000'000'000'000; // in 2026
        request_.compare_all = true;
    }

    std::string records() const { return scratch_.file("records"); }
    std::string path(const std::string& name) const { return (fs::path(records()) / name).string(); }
    static std::string text(const std::string& file) {
        std::ifstream in(file, std::ios::binary);
        return {std::istreambuf_iterator<char>(in), {}};
    }

    /// Documents in a folder of this name, and the signature over them.
    bench::RecordedCertificate put(const std::string& name, const std::string& number, const std::string& printed,
                                   std::string digest = "", const std::string& replaces = "") {
        auto said = sample::certificate(1);
        said.number = number;
        said.draft = false;
        said.replaces = replaces;
        said.amended_because = replaces.empty() ? "" : "invented";
        said.proof.journal_number = 7;
        said.proof.journal_digest = digest.empty() ? digest_ : digest;
        const auto xml = records::dcc_xml(said);
        EXPECT_TRUE(xml) << (xml ? "" : xml.error().message);
        fs::create_directories(path(name));
        std::ofstream(path(name) + "/" + number + ".xml", std::ios::binary) << *xml;
        std::ofstream(path(name) + "/" + number + ".pdf", std::ios::binary) << printed;
        bench::RecordedCertificate one;
        one.draft.certificate = number;
        one.draft.utc_us = request_.utc_us;
        one.signature.emplace();
        one.signature->certificate = number;
        one.signature->pdf_sha256 = seal::hex(seal::sha256(printed));
        one.signature->xml_sha256 = seal::hex(seal::sha256(*xml));
        return one;
    }
    void draft(const std::string& number) {
        bench::RecordedCertificate one;
        one.draft.certificate = number;
        one.draft.utc_us = request_.utc_us;
        request_.certificates.push_back(one);
    }
    static std::vector<Code> codes(const RecordsLook& look) {
        std::vector<Code> list;
        for (const auto& one : look.findings)
            list.push_back(one.code);
        return list;
    }

    journal::testing::Scratch scratch_;
    std::string digest_;
    RecordsLookRequest request_;
};

TEST_F(Records, WhatWasSignedGetsItsName) {
    request_.certificates = {put("INV-2026-0001.unrecorded", "INV-2026-0001", "paper")};
    const auto look = look_at_records(request_);
    EXPECT_EQ(codes(look), std::vector<Code>{});
    EXPECT_EQ(text(path("INV-2026-0001/INV-2026-0001.pdf")), "paper");
    EXPECT_FALSE(fs::exists(path("INV-2026-0001.unrecorded")));
    ASSERT_EQ(look.done.size(), 1U);
}

TEST_F(Records, WhatCannotGetItsNameIsToldAndTriedAgain) {
    request_.certificates = {put("INV-2026-0001.unrecorded", "INV-2026-0001", "paper")};
    fs::create_symlink(path("nowhere"), path("INV-2026-0001")); // a folder cannot be renamed to that
    const auto look = look_at_records(request_);
    ASSERT_EQ(codes(look), std::vector<Code>{Code::not_in_place});
    EXPECT_EQ(look.findings[0].certificate, "INV-2026-0001");
    EXPECT_NE(words_of(look.findings[0]).find(path("INV-2026-0001.unrecorded")), std::string::npos);
    fs::remove(path("INV-2026-0001"));
    EXPECT_EQ(codes(look_at_records(request_)), std::vector<Code>{});
    EXPECT_EQ(text(path("INV-2026-0001/INV-2026-0001.pdf")), "paper");
}

TEST_F(Records, OtherDocumentsInItsPlaceAreToldAndStay) {
    put("INV-2026-0001", "INV-2026-0001", "of another journal");
    request_.certificates = {put("INV-2026-0001.unrecorded", "INV-2026-0001", "paper")};
    const auto look = look_at_records(request_);
    EXPECT_EQ(codes(look), (std::vector<Code>{Code::not_in_place, Code::other_content}));
    EXPECT_EQ(text(path("INV-2026-0001/INV-2026-0001.pdf")), "of another journal");
    EXPECT_EQ(text(path("INV-2026-0001.unrecorded/INV-2026-0001.pdf")), "paper");
}

TEST_F(Records, DocumentsOfAnotherSignatureDoNotGetTheName) {
    request_.certificates = {put("INV-2026-0001.unrecorded", "INV-2026-0001", "paper")};
    std::ofstream(path("INV-2026-0001.unrecorded/INV-2026-0001.pdf")) << "other paper";
    EXPECT_EQ(codes(look_at_records(request_)), std::vector<Code>{Code::other_content});
    EXPECT_FALSE(fs::exists(path("INV-2026-0001")));
    EXPECT_TRUE(fs::exists(path("INV-2026-0001.unrecorded")));
}

TEST_F(Records, WhatIsInItsPlaceAlreadyIsNotKeptTwice) {
    put("INV-2026-0001", "INV-2026-0001", "paper");
    request_.certificates = {put("INV-2026-0001.unrecorded", "INV-2026-0001", "paper")};
    EXPECT_EQ(codes(look_at_records(request_)), std::vector<Code>{});
    EXPECT_FALSE(fs::exists(path("INV-2026-0001.unrecorded")));
    EXPECT_EQ(text(path("INV-2026-0001/INV-2026-0001.pdf")), "paper");
}

TEST_F(Records, WhatWasNeverIssuedIsRemovedAndNothingElse) {
    draft("INV-2026-0001");
    draft("INV-2026-0002");
    put("INV-2026-0001.unrecorded", "INV-2026-0001", "its signature was refused");
    put("INV-2026-0002.unrecorded", "INV-2026-0002", "being signed");
    put("INV-2026-0003.unrecorded", "INV-2026-0003", "signed in a journal that is lost", std::string(64, 'a'));
    fs::create_directories(path("notes"));
    std::ofstream(path("notes/x.txt")) << "of a person";
    request_.busy = {"INV-2026-0002"};
    const auto look = look_at_records(request_);
    EXPECT_FALSE(fs::exists(path("INV-2026-0001.unrecorded")));
    EXPECT_TRUE(fs::exists(path("INV-2026-0002.unrecorded")));
    EXPECT_TRUE(fs::exists(path("INV-2026-0003.unrecorded"))) << "it may have been issued";
    EXPECT_TRUE(fs::exists(path("notes/x.txt")));
    ASSERT_EQ(codes(look), std::vector<Code>{Code::unknown_signed});
    EXPECT_EQ(look.findings[0].certificate, "INV-2026-0003");
    EXPECT_TRUE(look.outside.issued.contains("INV-2026-0003"));
    EXPECT_FALSE(look.outside.issued.contains("INV-2026-0001"));
}

TEST_F(Records, NothingIsRemovedWhileTheJournalCannotBeWritten) {
    draft("INV-2026-0001");
    put("INV-2026-0001.unrecorded", "INV-2026-0001", "perhaps on record");
    request_.journal_failed = true;
    EXPECT_EQ(codes(look_at_records(request_)), std::vector<Code>{});
    EXPECT_TRUE(fs::exists(path("INV-2026-0001.unrecorded")));
}

TEST_F(Records, WhatWasWrittenInPartIsRemovedAtTheStart) {
    for (const char* name : {".INV-2026-0001.unrecorded.new", ".INV-2026-0001.unrecorded.old",
                             ".INV-2026-0002-draft-1.new", ".mine", ".mine.new"})
        fs::create_directories(path(name));
    EXPECT_TRUE(look_at_records(request_).done.empty());
    request_.at_start = true;
    EXPECT_EQ(look_at_records(request_).done.size(), 3U);
    EXPECT_TRUE(fs::exists(path(".mine")));
    EXPECT_TRUE(fs::exists(path(".mine.new")));
    EXPECT_FALSE(fs::exists(path(".INV-2026-0001.unrecorded.new")));
}

TEST_F(Records, DocumentsThatTheJournalDoesNotKnowAreNamedAndTheirNumbersTaken) {
    request_.certificates = {put("INV-2026-0001", "INV-2026-0001", "paper")};
    draft("INV-2026-0002");
    put("INV-2026-0002", "INV-2026-0002", "signed after the copy");
    put("INV-2026-0004", "INV-2026-0004", "issued after the copy", "", "INV-2026-0001");
    put("INV-2026-0004-draft-1", "INV-2026-0004", "its draft");
    put("INV-2026-0006-draft-2", "INV-2026-0006", "a draft");
    put("INV-2026-0007-draft-1", "INV-2026-0007", "being drafted");
    request_.busy = {"INV-2026-0007"};
    fs::create_directories(path("INV-2026-0008"));
    const auto look = look_at_records(request_);
    EXPECT_EQ(codes(look), (std::vector<Code>{Code::unknown_signed, Code::unknown_signed, Code::unknown_draft}));
    EXPECT_EQ(look.findings[1].detail, "INV-2026-0001");
    EXPECT_NE(words_of(look.findings[1]).find("which amends INV-2026-0001"), std::string::npos);
    for (const char* number : {"INV-2026-0002", "INV-2026-0004", "INV-2026-0008"})
        EXPECT_TRUE(look.outside.issued.contains(number)) << number;
    EXPECT_FALSE(look.outside.issued.contains("INV-2026-0001"));
    EXPECT_EQ(look.outside.editions.at("INV-2026-0006"), 2);
    EXPECT_EQ(*journal::remembered_numbers(request_.memory), (journal::HighestNumbers{{"INV-2026-{count}", 8}}));
    // What is remembered stays taken when the documents are gone too.
    fs::remove_all(records());
    request_.certificates.clear();
    EXPECT_TRUE(look_at_records(request_).outside.taken.contains("INV-2026-0008"));
}

TEST_F(Records, WithoutItsMemoryNothingGetsANumber) {
    std::ofstream(request_.memory) << "nonsense";
    const auto look = look_at_records(request_);
    ASSERT_EQ(codes(look), std::vector<Code>{Code::memory_unreadable});
    EXPECT_NE(words_of(look.findings[0]).find(request_.memory), std::string::npos);
}

TEST_F(Records, SignedDocumentsThatAreGoneOrOthersAreNamed) {
    request_.certificates = {put("INV-2026-0001", "INV-2026-0001", "paper"),
                             put("INV-2026-0002", "INV-2026-0002", "paper")};
    fs::remove_all(path("INV-2026-0001"));
    std::ofstream(path("INV-2026-0002/INV-2026-0002.pdf")) << "changed";
    EXPECT_EQ(codes(look_at_records(request_)), (std::vector<Code>{Code::missing, Code::other_content}));
    request_.compare_all = false;
    EXPECT_EQ(codes(look_at_records(request_)), std::vector<Code>{Code::missing});
    request_.compare = {"INV-2026-0002"};
    EXPECT_EQ(codes(look_at_records(request_)), (std::vector<Code>{Code::missing, Code::other_content}));
}

} // namespace
} // namespace stillmark::gateway::testing
