#include "daemon/seal/digest.hpp"

#include <algorithm>
#include <new>
#include <openssl/evp.h>
#include <openssl/rand.h>

namespace stillmark::seal {

namespace {

constexpr std::string_view hex_digits = "0123456789abcdef";
constexpr std::string_view base64_digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// Looked up once: the library's own look-up costs more than the digest of a short text.
const EVP_MD* algorithm() {
    static const std::unique_ptr<EVP_MD, decltype(&EVP_MD_free)> found(EVP_MD_fetch(nullptr, "SHA256", nullptr),
                                                                       &EVP_MD_free);
    return found.get();
}

void must(int done) {
    if (done != 1) throw std::bad_alloc();
}

std::optional<std::uint8_t> hex_value(char c) {
    if (c >= 'A' && c <= 'F') c = static_cast<char>(c - 'A' + 'a');
    const auto value = hex_digits.find(c);
    if (value == std::string_view::npos) return std::nullopt;
    return static_cast<std::uint8_t>(value);
}

} // namespace

void Sha256::Freed::operator()(evp_md_ctx_st* context) const {
    EVP_MD_CTX_free(context);
}

Sha256::Sha256() : context_(EVP_MD_CTX_new()) {
    if (context_ == nullptr || algorithm() == nullptr) throw std::bad_alloc();
    must(EVP_DigestInit_ex2(context_.get(), algorithm(), nullptr));
}

Sha256& Sha256::add(BytesView bytes) {
    must(EVP_DigestUpdate(context_.get(), bytes.data(), bytes.size()));
    return *this;
}

Sha256& Sha256::add(std::string_view text) {
    return add(bytes_of(text));
}

Digest Sha256::finish() {
    Digest digest{};
    must(EVP_DigestFinal_ex(context_.get(), digest.data(), nullptr));
    must(EVP_DigestInit_ex2(context_.get(), algorithm(), nullptr));
    return digest;
}

Digest sha256(BytesView bytes) {
    return Sha256().add(bytes).finish();
}

Digest sha256(std::string_view text) {
    return sha256(bytes_of(text));
}

BytesView bytes_of(std::string_view text) {
    return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

std::string hex(BytesView bytes) {
    std::string text;
    text.reserve(2 * bytes.size());
    for (const auto byte : bytes) {
        text.push_back(hex_digits[byte >> 4U]);
        text.push_back(hex_digits[byte & 15U]);
    }
    return text;
}

std::optional<Bytes> from_hex(std::string_view text) {
    if (text.size() % 2 != 0) return std::nullopt;
    Bytes bytes;
    bytes.reserve(text.size() / 2);
    for (std::size_t i = 0; i < text.size(); i += 2) {
        const auto high = hex_value(text[i]), low = hex_value(text[i + 1]);
        if (!high || !low) return std::nullopt;
        bytes.push_back(static_cast<std::uint8_t>((*high << 4U) | *low));
    }
    return bytes;
}

std::optional<Digest> digest_from_hex(std::string_view text) {
    const auto bytes = from_hex(text);
    Digest digest{};
    if (!bytes || bytes->size() != digest.size()) return std::nullopt;
    std::ranges::copy(*bytes, digest.begin());
    return digest;
}

std::string base64(BytesView bytes) {
    std::string text;
    text.reserve((bytes.size() + 2) / 3 * 4);
    std::uint32_t held = 0;
    unsigned bits = 0;
    for (const auto byte : bytes) {
        held = (held << 8U) | byte;
        bits += 8;
        while (bits >= 6) {
            bits -= 6;
            text.push_back(base64_digits[(held >> bits) & 63U]);
        }
    }
    if (bits > 0) text.push_back(base64_digits[(held << (6 - bits)) & 63U]);
    while (text.size() % 4 != 0)
        text.push_back('=');
    return text;
}

std::optional<Bytes> from_base64(std::string_view text) {
    if (text.size() % 4 != 0) return std::nullopt;
    std::size_t padding = 0;
    while (padding < 2 && text.ends_with('=')) {
        text.remove_suffix(1);
        ++padding;
    }
    Bytes bytes;
    bytes.reserve(text.size() / 4 * 3 + 2);
    std::uint32_t held = 0;
    unsigned bits = 0;
    for (const char c : text) {
        const auto digit = base64_digits.find(c);
        if (digit == std::string_view::npos) return std::nullopt;
        held = (held << 6U) | static_cast<std::uint32_t>(digit);
        bits += 6;
        if (bits < 8) continue;
        bits -= 8;
        bytes.push_back(static_cast<std::uint8_t>((held >> bits) & 255U));
    }
    // Left over are the two bits of one padding sign each, and none of them is set.
    if (bits != 2 * padding || (held & ((1U << bits) - 1U)) != 0) return std::nullopt;
    return bytes;
}

std::optional<Bytes> random_bytes(std::size_t count) {
    Bytes bytes(count);
    if (RAND_bytes(bytes.data(), static_cast<int>(count)) != 1) return std::nullopt;
    return bytes;
}

} // namespace stillmark::seal
