#include "daemon/people/password_hash.hpp"

#include <fmt/format.h>

#include <charconv>
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/rand.h>

namespace stillmark::people {

namespace {

constexpr std::size_t salt_length = 16;
constexpr std::size_t key_length = 32;
constexpr std::uint64_t most_memory = std::uint64_t{64} << 20U;
/// N = 2^14, r = 8, p = 1: the interactive log-in of the paper that RFC 7914 rests on.
constexpr std::uint64_t least_work = (std::uint64_t{1} << 14U) * 8;
constexpr std::uint64_t most_work = (std::uint64_t{1} << 16U) * 8 * 16;

/// Base64 without its padding.
std::string unpadded(const Bytes& bytes) {
    std::string text = seal::base64(bytes);
    text.erase(std::min(text.find('='), text.size()));
    return text;
}

/// Nothing where the text is no base64 without padding, or not the only one for its bytes.
std::optional<Bytes> from_unpadded(std::string_view text) {
    if (text.ends_with('=')) return std::nullopt;
    return seal::from_base64(std::string(text) + std::string((4 - text.size() % 4) % 4, '='));
}

/// Takes `before` and the number behind it off the front of the text.
std::optional<unsigned> take_number(std::string_view& text, std::string_view before) {
    if (!text.starts_with(before)) return std::nullopt;
    text.remove_prefix(before.size());
    unsigned value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || text.starts_with('0')) return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return value;
}

bool is_bearable(const ScryptCost& cost) {
    if (cost.log2_n < 1 || cost.log2_n > 20 || cost.r < 1 || cost.r > 32 || cost.p < 1 || cost.p > 16) return false;
    const std::uint64_t n_r = (std::uint64_t{1} << cost.log2_n) * cost.r;
    return 128 * n_r <= most_memory && n_r * cost.p >= least_work && n_r * cost.p <= most_work;
}

} // namespace

std::optional<Bytes> scrypt(std::string_view password, const Bytes& salt, const ScryptCost& cost, std::size_t length) {
    Bytes key(length);
    const std::uint64_t n = std::uint64_t{1} << cost.log2_n;
    // What the library is allowed, with room for its blocks beside the large table.
    const std::uint64_t memory = 128 * n * cost.r + 128 * std::uint64_t{cost.r} * cost.p + (1U << 20U);
    if (EVP_PBE_scrypt(password.data(), password.size(), salt.data(), salt.size(), n, cost.r, cost.p, memory,
                       key.data(), key.size()) != 1)
        return std::nullopt;
    return key;
}

std::optional<PasswordHash> read_password_hash(std::string_view text) {
    const auto log2_n = take_number(text, "$scrypt$ln=");
    const auto r = log2_n ? take_number(text, ",r=") : std::nullopt;
    const auto p = r ? take_number(text, ",p=") : std::nullopt;
    if (!p || !text.starts_with('$')) return std::nullopt;
    text.remove_prefix(1);
    const auto between = text.find('$');
    if (between == std::string_view::npos) return std::nullopt;
    const auto salt = from_unpadded(text.substr(0, between));
    const auto key = from_unpadded(text.substr(between + 1));
    if (!salt || !key || salt->size() < 8 || salt->size() > 64 || key->size() < 32 || key->size() > 64)
        return std::nullopt;
    PasswordHash hash{{*log2_n, *r, *p}, *salt, *key};
    if (!is_bearable(hash.cost)) return std::nullopt;
    return hash;
}

std::string text_of(const PasswordHash& hash) {
    return fmt::format("$scrypt$ln={},r={},p={}${}${}", hash.cost.log2_n, hash.cost.r, hash.cost.p, unpadded(hash.salt),
                       unpadded(hash.key));
}

std::optional<std::string> new_password_hash(std::string_view password) {
    PasswordHash hash{present_cost, Bytes(salt_length), {}};
    if (RAND_bytes(hash.salt.data(), static_cast<int>(hash.salt.size())) != 1) return std::nullopt;
    auto key = scrypt(password, hash.salt, hash.cost, key_length);
    if (!key) return std::nullopt;
    hash.key = std::move(*key);
    return text_of(hash);
}

bool fits(const std::string& hash_text, std::string_view password) {
    const auto hash = read_password_hash(hash_text);
    if (!hash) return false;
    const auto key = scrypt(password, hash->salt, hash->cost, hash->key.size());
    return key && CRYPTO_memcmp(key->data(), hash->key.data(), key->size()) == 0;
}

std::string hash_of_nobody() {
    PasswordHash hash{present_cost, Bytes(salt_length), Bytes(key_length)};
    // Where there are no random bytes the key is zeros, which no password is known to give either.
    static_cast<void>(RAND_bytes(hash.salt.data(), static_cast<int>(hash.salt.size())));
    static_cast<void>(RAND_bytes(hash.key.data(), static_cast<int>(hash.key.size())));
    return text_of(hash);
}

void wipe(std::string& secret) {
    OPENSSL_cleanse(secret.data(), secret.size());
    secret.clear();
}

} // namespace stillmark::people
