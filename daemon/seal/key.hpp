#pragma once

#include "daemon/seal/digest.hpp"

#include <boost/system/result.hpp>

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>

struct evp_pkey_st;

namespace stillmark::seal {

struct SealError {
    std::string message; ///< file, what was found, what would do
};
template <class T>
using SealResult = boost::system::result<T, SealError>;
[[noreturn]] void throw_exception_from_error(const SealError& error, const boost::source_location& at);

using Signature = std::array<std::uint8_t, 64>;
using RawPublicKey = std::array<std::uint8_t, 32>;

/// The public half of an Ed25519 key (RFC 8032): whoever has it can tell whose a signature is.
class PublicKey {
  public:
    /// From PEM ("BEGIN PUBLIC KEY"), as `openssl pkey -pubout` writes it too.
    static SealResult<PublicKey> load(const std::string& path);
    /// From its 32 bytes; nothing where the library refuses them.
    static std::optional<PublicKey> from_raw(BytesView raw);

    /// Whether `signature` is this key's for exactly these bytes.
    bool accepts(BytesView message, BytesView signature) const;
    RawPublicKey raw() const;
    std::string pem() const;
    /// The first 16 hex digits of SHA-256 over the key's SubjectPublicKeyInfo (DER), by which people name a key.
    std::string fingerprint() const;

  private:
    friend class PrivateKey;
    explicit PublicKey(std::shared_ptr<evp_pkey_st> key) : key_(std::move(key)) {}
    std::shared_ptr<evp_pkey_st> key_;
};

/// An Ed25519 key that signs. May be used by several threads at a time.
class PrivateKey {
  public:
    static SealResult<PrivateKey> make();
    /// From PEM without a password ("BEGIN PRIVATE KEY", PKCS #8). Refuses a file that others than its owner may read.
    static SealResult<PrivateKey> load(const std::string& path);
    /// The key in that file, or a new one that is written there with mode 0600. Its public half stands beside it in
    /// `path`.pub, for whoever verifies, and is written where it is missing or another's.
    static SealResult<PrivateKey> load_or_make(const std::string& path);

    SealResult<Signature> sign(BytesView message) const;
    const PublicKey& public_key() const { return public_; }

  private:
    explicit PrivateKey(const std::shared_ptr<evp_pkey_st>& key) : public_(key) {}
    PublicKey public_; // the library keeps both halves in one
};

} // namespace stillmark::seal
