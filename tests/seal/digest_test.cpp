#include "daemon/seal/digest.hpp"

#include <gtest/gtest.h>

namespace stillmark::seal {
namespace {

// NIST, "Secure Hashing" examples to FIPS 180-4: SHA-256 of one and of two blocks.
TEST(Sha256, TheStandardsExamples) {
    EXPECT_EQ(hex(sha256("abc")), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(hex(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq")),
              "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    EXPECT_EQ(hex(sha256("")), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST(Sha256, PiecesGiveWhatTheWholeGivesAndItBeginsAnew) {
    Sha256 digest;
    for (int times = 0; times < 3; ++times)
        EXPECT_EQ(digest.add("a").add("").add("bc").finish(), sha256("abc"));
    EXPECT_EQ(digest.finish(), sha256(""));
}

TEST(Hex, BothWays) {
    const Bytes bytes{0x00, 0x7f, 0x80, 0xff};
    EXPECT_EQ(hex(bytes), "007f80ff");
    EXPECT_EQ(from_hex("007F80ff"), bytes);
    EXPECT_EQ(from_hex(""), Bytes{});
    for (const char* wrong : {"0", "0g", "0x", " 00", "00 "})
        EXPECT_FALSE(from_hex(wrong)) << wrong;
    EXPECT_EQ(digest_from_hex(hex(sha256("abc"))), sha256("abc"));
    EXPECT_FALSE(digest_from_hex(hex(sha256("abc")).substr(2)));
}

// RFC 4648, section 10.
TEST(Base64, TheRfcsExamplesBothWays) {
    const std::pair<const char*, const char*> examples[] = {{"", ""},
                                                            {"f", "Zg=="},
                                                            {"fo", "Zm8="},
                                                            {"foo", "Zm9v"},
                                                            {"foob", "Zm9vYg=="},
                                                            {"fooba", "Zm9vYmE="},
                                                            {"foobar", "Zm9vYmFy"}};
    for (const auto& [plain, coded] : examples) {
        EXPECT_EQ(base64(bytes_of(plain)), coded);
        const auto back = from_base64(coded);
        ASSERT_TRUE(back) << coded;
        EXPECT_EQ(std::string(back->begin(), back->end()), plain);
    }
}

TEST(Base64, OnlyTheOneTextOfSomeBytesIsTaken) {
    for (const char* wrong : {"Zg", "Zg=", "Zh==", "Zm9=", "Z===", "====", "Zg==Zg==", "Zm9v\n", "Zm 9", "-_-_"})
        EXPECT_FALSE(from_base64(wrong)) << wrong;
}

TEST(RandomBytes, AreAsManyAsAskedForAndOthersEachTime) {
    const auto one = random_bytes(16), other = random_bytes(16);
    ASSERT_TRUE(one && other);
    EXPECT_EQ(one->size(), 16U);
    EXPECT_NE(*one, *other);
}

} // namespace
} // namespace stillmark::seal
