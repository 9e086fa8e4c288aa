#include "daemon/seal/key.hpp"
#include "daemon/seal/whole_file.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <stdlib.h>
#include <sys/stat.h>

namespace stillmark::seal {
namespace {

class Folder : public ::testing::Test {
  protected:
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "stillmark-seal-XXXXXX").string();
        folder_ = ::mkdtemp(name.data());
    }
    ~Folder() override {
        std::error_code wrong;
        std::filesystem::remove_all(folder_, wrong);
    }
    std::string file(const std::string& name) const { return (folder_ / name).string(); }
    static unsigned mode(const std::string& path) {
        struct stat found {};
        return ::stat(path.c_str(), &found) == 0 ? found.st_mode & 0777U : 0;
    }
    static std::string text(const std::string& path) {
        std::ifstream in(path);
        return {std::istreambuf_iterator<char>(in), {}};
    }
    static int shell(const std::string& command) {
        return std::system(
            ("( " + command + " ) >/dev/null 2>&1").c_str()); // NOLINT(concurrency-mt-unsafe): one thread
    }

  private:
    std::filesystem::path folder_;
};

using Key = Folder;

Bytes bytes(std::string_view hex_text) {
    return from_hex(hex_text).value();
}

// RFC 8032, section 7.1, tests 1 and 2.
TEST(PublicKey, AcceptsTheRfcsSignaturesAndNoOther) {
    const auto first = PublicKey::from_raw(bytes("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"));
    const auto second = PublicKey::from_raw(bytes("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"));
    ASSERT_TRUE(first && second);
    const auto of_nothing = bytes("e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
                                  "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b");
    const auto of_72 = bytes("92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
                             "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00");
    EXPECT_TRUE(first->accepts({}, of_nothing));
    EXPECT_TRUE(second->accepts(bytes("72"), of_72));
    EXPECT_FALSE(second->accepts({}, of_nothing));
    EXPECT_FALSE(second->accepts(bytes("73"), of_72));
    for (std::size_t i = 0; i < of_72.size(); ++i) {
        auto altered = of_72;
        altered[i] ^= 1U;
        EXPECT_FALSE(second->accepts(bytes("72"), altered)) << i;
    }
    EXPECT_FALSE(second->accepts(bytes("72"), BytesView(of_72).first(63)));
    EXPECT_FALSE(PublicKey::from_raw(bytes("00")));
}

TEST_F(Key, IsMadeOnceForItsOwnerAloneWithItsPublicHalfBeside) {
    const auto made = PrivateKey::load_or_make(file("key"));
    ASSERT_TRUE(made) << made.error().message;
    EXPECT_EQ(mode(file("key")), 0600U);
    EXPECT_EQ(mode(file("key.pub")), 0644U);
    const auto again = PrivateKey::load_or_make(file("key"));
    ASSERT_TRUE(again) << again.error().message;
    EXPECT_EQ(again->public_key().raw(), made->public_key().raw());
    EXPECT_NE(PrivateKey::make()->public_key().raw(), made->public_key().raw());

    const auto beside = PublicKey::load(file("key.pub"));
    ASSERT_TRUE(beside) << beside.error().message;
    EXPECT_EQ(beside->fingerprint(), made->public_key().fingerprint());
    EXPECT_EQ(beside->fingerprint().size(), 16U);
    const auto signature = again->sign(bytes_of("a mark"));
    ASSERT_TRUE(signature);
    EXPECT_TRUE(beside->accepts(bytes_of("a mark"), *signature));
    EXPECT_FALSE(beside->accepts(bytes_of("a Mark"), *signature));
}

TEST_F(Key, APublicHalfThatIsMissingOrAnothersIsWrittenAnew) {
    const auto made = PrivateKey::load_or_make(file("key"));
    ASSERT_TRUE(made);
    std::filesystem::remove(file("key.pub"));
    ASSERT_TRUE(PrivateKey::load_or_make(file("key")));
    EXPECT_EQ(text(file("key.pub")), made->public_key().pem());
    ASSERT_TRUE(PrivateKey::load_or_make(file("other")));
    std::filesystem::copy_file(file("other.pub"), file("key.pub"), std::filesystem::copy_options::overwrite_existing);
    ASSERT_TRUE(PrivateKey::load_or_make(file("key")));
    EXPECT_EQ(text(file("key.pub")), made->public_key().pem());
}

TEST_F(Key, OneThatOthersMayReadIsRefused) {
    ASSERT_TRUE(PrivateKey::load_or_make(file("key")));
    for (const unsigned open : {0640U, 0604U, 0620U}) {
        ASSERT_EQ(::chmod(file("key").c_str(), open), 0);
        const auto refused = PrivateKey::load(file("key"));
        ASSERT_FALSE(refused);
        EXPECT_EQ(refused.error().message,
                  fmt::format("{0}: others than its owner may read or write it (mode {1:03o}), so what it signs proves "
                              "nothing; say: chmod 600 {0}",
                              file("key"), open));
        EXPECT_FALSE(PrivateKey::load_or_make(file("key")));
    }
}

TEST_F(Key, WhatIsNoKeyIsRefusedAndKept) {
    std::ofstream(file("key")) << "not a key\n";
    ASSERT_EQ(::chmod(file("key").c_str(), 0600), 0);
    const auto refused = PrivateKey::load_or_make(file("key"));
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().message.find("is no Ed25519 key in PEM"), std::string::npos);
    EXPECT_EQ(text(file("key")), "not a key\n");
    EXPECT_NE(PublicKey::load(file("key")).error().message.find("is no Ed25519 public key"), std::string::npos);
    EXPECT_NE(PublicKey::load(file("none")).error().message.find("cannot be opened"), std::string::npos);
    EXPECT_FALSE(PrivateKey::load_or_make(file("no/folder")));
    std::ofstream(file("large")) << std::string(70000, 'x');
    EXPECT_NE(PublicKey::load(file("large")).error().message.find("larger than 64 KiB"), std::string::npos);
}

TEST_F(Key, AFileThatIsKeptIsKept) {
    ASSERT_TRUE(write_whole_file(file("x"), "one", ReadableBy::its_owner, Present::is_kept));
    EXPECT_FALSE(write_whole_file(file("x"), "two", ReadableBy::its_owner, Present::is_kept));
    EXPECT_EQ(text(file("x")), "one");
    ASSERT_TRUE(write_whole_file(file("x"), "three", ReadableBy::its_owner, Present::is_replaced));
    EXPECT_EQ(text(file("x")), "three");
    int files = 0;
    for ([[maybe_unused]] const auto& one : std::filesystem::directory_iterator(file("")))
        ++files;
    EXPECT_EQ(files, 1) << "something was left beside it";
}

// A stranger's program: what we sign it verifies, what it signs we accept, and our files are its files.
TEST_F(Key, AgreesWithTheOpensslProgram) {
    const auto ours = PrivateKey::load_or_make(file("ours"));
    ASSERT_TRUE(ours);
    std::ofstream(file("message")) << "journal digest at number 17";
    const auto signature = ours->sign(bytes_of("journal digest at number 17"));
    ASSERT_TRUE(signature);
    std::ofstream(file("signature"), std::ios::binary)
        .write(reinterpret_cast<const char*>(signature->data()), static_cast<std::streamsize>(signature->size()));
    const std::string verify = fmt::format("openssl pkeyutl -verify -rawin -pubin -inkey {} -sigfile {} -in ",
                                           file("ours.pub"), file("signature"));
    EXPECT_EQ(shell(verify + file("message")), 0);
    std::ofstream(file("other")) << "journal digest at number 18";
    EXPECT_NE(shell(verify + file("other")), 0);

    ASSERT_EQ(
        shell(fmt::format("umask 077; openssl genpkey -algorithm ed25519 -out {0} && openssl pkey -in {0} -pubout "
                          "-out {0}.pub && openssl pkeyutl -sign -rawin -inkey {0} -in {1} -out {0}.sig",
                          file("theirs"), file("message"))),
        0);
    const auto theirs = PublicKey::load(file("theirs.pub"));
    ASSERT_TRUE(theirs) << theirs.error().message;
    EXPECT_TRUE(theirs->accepts(bytes_of("journal digest at number 17"), bytes_of(text(file("theirs.sig")))));
    const auto taken = PrivateKey::load(file("theirs"));
    ASSERT_TRUE(taken) << taken.error().message;
    EXPECT_EQ(taken->public_key().raw(), theirs->raw());

    // The fingerprint by the same program.
    ASSERT_EQ(shell(fmt::format("openssl pkey -pubin -in {0} -outform DER | sha256sum | head -c 16 > {1}",
                                file("theirs.pub"), file("fingerprint"))),
              0);
    EXPECT_EQ(theirs->fingerprint(), text(file("fingerprint")));

    // One with a password is refused without asking for it.
    ASSERT_EQ(shell(fmt::format("umask 077; openssl pkey -in {} -aes256 -passout pass:secret -out {}", file("theirs"),
                                file("locked"))),
              0);
    EXPECT_FALSE(PrivateKey::load(file("locked")));
    ASSERT_EQ(shell(fmt::format("umask 077; openssl genpkey -algorithm x25519 -out {}", file("another"))), 0);
    EXPECT_FALSE(PrivateKey::load(file("another")));
}

} // namespace
} // namespace stillmark::seal
