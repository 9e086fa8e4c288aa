#include "daemon/people/password_hash.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <array>
#include <cstdio>

namespace stillmark::people {
namespace {

Bytes bytes(const std::string& text) {
    return {text.begin(), text.end()};
}

std::string hex(const auto& text) {
    std::string all;
    for (const auto byte : text)
        all += fmt::format("{:02x}", static_cast<unsigned char>(byte));
    return all;
}

// RFC 7914 (2016), section 12, the first three of its values.
TEST(Scrypt, ThePublishedValues) {
    EXPECT_EQ(hex(scrypt("", {}, {4, 1, 1}, 64).value()),
              "77d6576238657b203b19ca42c18a0497f16b4844e3074ae8dfdffa3fede21442"
              "fcd0069ded0948f8326a753a0fc81f17e8d3e0fb2e0d3628cf35e20c38d18906");
    EXPECT_EQ(hex(scrypt("password", bytes("NaCl"), {10, 8, 16}, 64).value()),
              "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
              "2eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640");
    EXPECT_EQ(hex(scrypt("pleaseletmein", bytes("SodiumChloride"), {14, 8, 1}, 64).value()),
              "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2"
              "d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887");
}

TEST(PasswordHash, FitsItsPasswordAndNoOther) {
    const std::string hash = new_password_hash("wet chalk").value();
    EXPECT_TRUE(hash.starts_with("$scrypt$ln=15,r=8,p=1$")) << hash;
    EXPECT_TRUE(fits(hash, "wet chalk"));
    for (const char* other : {"", "wet chal", "wet chalk ", "Wet chalk", "wet chalj"})
        EXPECT_FALSE(fits(hash, other)) << other;
}

TEST(PasswordHash, TheSamePasswordTwiceGivesTwoHashes) {
    const auto one = read_password_hash(new_password_hash("wet chalk").value()).value();
    const auto two = read_password_hash(new_password_hash("wet chalk").value()).value();
    EXPECT_EQ(one.salt.size(), 16U);
    EXPECT_EQ(one.key.size(), 32U);
    EXPECT_NE(one.salt, two.salt);
    EXPECT_NE(one.key, two.key);
}

TEST(PasswordHash, ATextIsReadAsItWasWritten) {
    for (const std::size_t salt : {8U, 9U, 10U, 16U, 64U}) {
        const PasswordHash hash{{15, 8, 2}, Bytes(salt, 0xA7), Bytes(33, 0xFE)};
        const auto again = read_password_hash(text_of(hash));
        ASSERT_TRUE(again) << text_of(hash);
        EXPECT_EQ(again->salt, hash.salt);
        EXPECT_EQ(again->key, hash.key);
        EXPECT_EQ(again->cost.p, 2U);
    }
    // RFC 4648 (2006), section 10: "foobar" is "Zm9vYmFy".
    EXPECT_NE(text_of({{15, 8, 1}, bytes("foobarfoobar"), Bytes(32)}).find("$Zm9vYmFyZm9vYmFy$"), std::string::npos);
}

TEST(PasswordHash, WhatIsNoHashFitsNothing) {
    const std::string salt(22, 'A');
    const std::string key(43, 'A');
    const std::string good = "$scrypt$ln=15,r=8,p=1$" + salt + "$" + key;
    ASSERT_TRUE(read_password_hash(good));
    for (const std::string& bad :
         {std::string(), std::string("$"), good + "AB", good + "=", good + "$", good.substr(1),
          "$scrypt$ln=015,r=8,p=1$" + salt + "$" + key, "$scrypt$ln=15,p=1,r=8$" + salt + "$" + key,
          "$scrypt$ln=-15,r=8,p=1$" + salt + "$" + key, "$scrypt$ln=15,r=8$" + salt + "$" + key,
          "$scrypt$ln=99999999999,r=8,p=1$" + salt + "$" + key, "$scrypt$ln=,r=8,p=1$" + salt + "$" + key,
          "$scrypt$ln=15,r=8,p=1$" + salt + "$" + key.substr(1) + "B", // bits beyond the bytes
          "$scrypt$ln=15,r=8,p=1$" + salt + "$AAAA", "$scrypt$ln=15,r=8,p=1$AAAA$" + key,
          "$scrypt$ln=15,r=8,p=1$" + salt + "-$" + key,
          std::string("$argon2id$v=19$m=65536,t=3,p=4$") + salt + "$" + key}) {
        EXPECT_FALSE(read_password_hash(bad)) << bad;
        EXPECT_FALSE(fits(bad, "wet chalk")) << bad;
    }
}

// A file must not make guessing cheap, nor a log-in cost the service its memory or its time.
TEST(PasswordHash, CostsThatAreTooSmallOrTooLargeAreRefused) {
    const auto with = [](unsigned ln, unsigned r, unsigned p) {
        return read_password_hash(text_of({{ln, r, p}, Bytes(16), Bytes(32)})).has_value();
    };
    EXPECT_TRUE(with(14, 8, 1));
    EXPECT_FALSE(with(13, 8, 1));
    EXPECT_FALSE(with(14, 4, 1));
    EXPECT_TRUE(with(16, 8, 16)) << "64 MiB";
    EXPECT_FALSE(with(17, 8, 1)) << "128 MiB";
    EXPECT_FALSE(with(16, 8, 17));
    EXPECT_FALSE(with(0, 8, 1));
    EXPECT_FALSE(with(63, 8, 1));
    EXPECT_FALSE(with(15, 8, 0));
    EXPECT_FALSE(with(15, 4294967295U, 1));
    EXPECT_FALSE(with(15, 8, 4294967295U));
}

TEST(PasswordHash, NobodyHasTheHashOfNobody) {
    const auto nobody = read_password_hash(hash_of_nobody());
    ASSERT_TRUE(nobody);
    EXPECT_EQ(nobody->cost.log2_n, present_cost.log2_n);
    EXPECT_EQ(nobody->cost.r, present_cost.r);
    EXPECT_EQ(nobody->cost.p, present_cost.p);
    EXPECT_FALSE(fits(hash_of_nobody(), ""));
}

TEST(PasswordHash, WipedTextIsGone) {
    std::string secret = "a password that is long enough to stand outside the object";
    const char* at = secret.data();
    wipe(secret);
    EXPECT_TRUE(secret.empty());
    EXPECT_EQ(at[0], '\0');
    EXPECT_EQ(at[20], '\0');
}

/// What the script beside this file prints.
std::string said_by_python(const std::string& arguments) {
    const std::string command =
        "/usr/bin/python3 " STILLMARK_SOURCE_DIR "/tests/people/hash_by_hashlib.py " + arguments + " 2>&1";
    FILE* pipe = ::popen(command.c_str(), "r");
    if (pipe == nullptr) return "no pipe";
    std::array<char, 1024> line{};
    std::string said;
    while (said.size() < 65536 && std::fgets(line.data(), line.size(), pipe) != nullptr)
        said += line.data();
    ::pclose(pipe);
    while (said.ends_with('\n'))
        said.pop_back();
    return said;
}

// Python's hashlib is a second implementation of the text and its reading, on the same library underneath.
TEST(PasswordHash, PythonTakesOurHashesAndWeTakeIts) {
    for (const std::string password : {"wet chalk", "\xC3\xA4\xE2\x82\xAC\xF0\x9F\x94\xA7 oil", "$,='\"\\ "}) {
        const std::string ours = new_password_hash(password).value();
        EXPECT_EQ(said_by_python("check " + hex(password) + " '" + ours + "'"), "yes") << password;
        EXPECT_EQ(said_by_python("check " + hex(password + "x") + " '" + ours + "'"), "no") << password;
        const std::string theirs = said_by_python("make " + hex(password));
        EXPECT_TRUE(fits(theirs, password)) << theirs;
        EXPECT_FALSE(fits(theirs, password + "x")) << theirs;
    }
}

} // namespace
} // namespace stillmark::people
