#include "daemon/seal/key.hpp"

#include "daemon/seal/whole_file.hpp"

#include <boost/throw_exception.hpp>
#include <fmt/format.h>

#include <filesystem>
#include <openssl/bio.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509.h>
#include <stdexcept>

namespace stillmark::seal {

namespace {

using Memory = std::unique_ptr<BIO, decltype(&BIO_free)>;
using Context = std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)>;

Memory over(std::string_view text) {
    return {BIO_new_mem_buf(text.data(), static_cast<int>(text.size())), &BIO_free};
}

std::string text_in(BIO* memory) {
    char* text = nullptr;
    const long length = BIO_get_mem_data(memory, &text);
    return length > 0 ? std::string(text, static_cast<std::size_t>(length)) : std::string();
}

std::shared_ptr<EVP_PKEY> owned(EVP_PKEY* key) {
    return {key, &EVP_PKEY_free};
}

bool is_ed25519(const std::shared_ptr<EVP_PKEY>& key) {
    return key != nullptr && EVP_PKEY_is_a(key.get(), "ED25519") == 1;
}

/// Without this the library would ask for a password at the terminal.
int no_password(char*, int, int, void*) {
    return -1;
}

std::string private_pem(EVP_PKEY* key) {
    const Memory memory(BIO_new(BIO_s_mem()), &BIO_free);
    if (memory == nullptr ||
        PEM_write_bio_PKCS8PrivateKey(memory.get(), key, nullptr, nullptr, 0, nullptr, nullptr) != 1)
        return {};
    return text_in(memory.get());
}

} // namespace

void throw_exception_from_error(const SealError& error, const boost::source_location& at) {
    boost::throw_exception(std::runtime_error(error.message), at);
}

SealResult<PublicKey> PublicKey::load(const std::string& path) {
    const auto text = read_small_file(path, ReadableBy::everybody);
    if (!text) return text.error();
    const auto memory = over(*text);
    auto key = owned(PEM_read_bio_PUBKEY(memory.get(), nullptr, &no_password, nullptr));
    if (!is_ed25519(key))
        return SealError{fmt::format("{}: is no Ed25519 public key in PEM (\"BEGIN PUBLIC KEY\"); give the file that "
                                     "stands beside the service's key, with .pub behind its name",
                                     path)};
    return PublicKey(std::move(key));
}

std::optional<PublicKey> PublicKey::from_raw(BytesView raw) {
    if (raw.size() != std::tuple_size_v<RawPublicKey>) return std::nullopt;
    auto key = owned(EVP_PKEY_new_raw_public_key_ex(nullptr, "ED25519", nullptr, raw.data(), raw.size()));
    if (key == nullptr) return std::nullopt;
    return PublicKey(std::move(key));
}

bool PublicKey::accepts(BytesView message, BytesView signature) const {
    const Context context(EVP_MD_CTX_new(), &EVP_MD_CTX_free);
    return context != nullptr && signature.size() == std::tuple_size_v<Signature> &&
           EVP_DigestVerifyInit_ex(context.get(), nullptr, nullptr, nullptr, nullptr, key_.get(), nullptr) == 1 &&
           EVP_DigestVerify(context.get(), signature.data(), signature.size(), message.data(), message.size()) == 1;
}

RawPublicKey PublicKey::raw() const {
    RawPublicKey raw{};
    std::size_t length = raw.size();
    EVP_PKEY_get_raw_public_key(key_.get(), raw.data(), &length);
    return raw;
}

std::string PublicKey::pem() const {
    const Memory memory(BIO_new(BIO_s_mem()), &BIO_free);
    if (memory == nullptr || PEM_write_bio_PUBKEY(memory.get(), key_.get()) != 1) return {};
    return text_in(memory.get());
}

std::string PublicKey::fingerprint() const {
    const Memory memory(BIO_new(BIO_s_mem()), &BIO_free);
    if (memory == nullptr || i2d_PUBKEY_bio(memory.get(), key_.get()) != 1) return {};
    return hex(sha256(text_in(memory.get()))).substr(0, 16);
}

SealResult<PrivateKey> PrivateKey::make() {
    auto key = owned(EVP_PKEY_Q_keygen(nullptr, nullptr, "ED25519"));
    if (key == nullptr) return SealError{"no key can be made: the system has no memory or random bytes"};
    return PrivateKey(key);
}

SealResult<PrivateKey> PrivateKey::load(const std::string& path) {
    const auto text = read_small_file(path, ReadableBy::its_owner);
    if (!text) return text.error();
    const auto memory = over(*text);
    const auto key = owned(PEM_read_bio_PrivateKey(memory.get(), nullptr, &no_password, nullptr));
    if (!is_ed25519(key))
        return SealError{fmt::format("{}: is no Ed25519 key in PEM without a password (\"BEGIN PRIVATE KEY\"); put the "
                                     "right file there, or move this one away and a new key is made",
                                     path)};
    return PrivateKey(key);
}

SealResult<PrivateKey> PrivateKey::load_or_make(const std::string& path) {
    std::error_code error;
    const bool is_new = !std::filesystem::exists(std::filesystem::symlink_status(path, error));
    auto key = is_new ? make() : load(path);
    if (!key) return key;
    if (is_new) {
        const auto text = private_pem(key->public_.key_.get());
        if (text.empty()) return SealError{path + ": the key cannot be written: no memory"};
        if (auto written = write_whole_file(path, text, ReadableBy::its_owner, Present::is_kept); !written)
            return written.error();
    }
    const std::string beside = path + ".pub";
    const auto known = PublicKey::load(beside);
    if (known && known->raw() == key->public_key().raw()) return key;
    if (auto written = write_whole_file(beside, key->public_key().pem(), ReadableBy::everybody, Present::is_replaced);
        !written)
        return written.error();
    return key;
}

SealResult<Signature> PrivateKey::sign(BytesView message) const {
    const Context context(EVP_MD_CTX_new(), &EVP_MD_CTX_free);
    Signature signature{};
    std::size_t length = signature.size();
    if (context == nullptr ||
        EVP_DigestSignInit_ex(context.get(), nullptr, nullptr, nullptr, nullptr, public_.key_.get(), nullptr) != 1 ||
        EVP_DigestSign(context.get(), signature.data(), &length, message.data(), message.size()) != 1 ||
        length != signature.size())
        return SealError{"nothing can be signed: the library has no memory"};
    return signature;
}

} // namespace stillmark::seal
