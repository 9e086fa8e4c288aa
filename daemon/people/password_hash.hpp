#pragma once

#include "daemon/seal/digest.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace stillmark::people {

using seal::Bytes;

/// What scrypt costs: memory is 128 r N bytes, work grows as N r p.
struct ScryptCost {
    unsigned log2_n;
    unsigned r;
    unsigned p;
};

/// 32 MiB and about a tenth of a second on the processor of a bench: a person does not notice it once a shift, and who
/// holds the file pays it for every guess. RFC 7914, section 2, calls r = 8, p = 1 and N to taste good values.
constexpr ScryptCost present_cost{15, 8, 1};

/// The key that scrypt (RFC 7914) derives; nothing where the library cannot (out of memory).
std::optional<Bytes> scrypt(std::string_view password, const Bytes& salt, const ScryptCost& cost, std::size_t length);

/// What a users file keeps of a password.
struct PasswordHash {
    ScryptCost cost;
    Bytes salt;
    Bytes key;
};

/// "$scrypt$ln=15,r=8,p=1$SALT$KEY", base64 without padding (the PHC string format). Nothing where the text is
/// something else, or asks for less than RFC 7914's "interactive" cost or more than 64 MiB: a file must not be able to
/// make a log-in cheap to guess or the service slow.
std::optional<PasswordHash> read_password_hash(std::string_view text);
std::string text_of(const PasswordHash& hash);

/// A hash at the present cost with a new salt; nothing where the library gives no random bytes or no memory.
std::optional<std::string> new_password_hash(std::string_view password);

/// Whether the password is the one of that text, in a time that does not tell how much of it was right. A text that is
/// no hash fits nothing.
bool fits(const std::string& hash_text, std::string_view password);

/// A hash at the present cost that no password fits: what a name that nobody has is checked against, for the same time.
std::string hash_of_nobody();

/// Overwrites a text that was secret.
void wipe(std::string& secret);

} // namespace stillmark::people
