#pragma once

#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

/// What is held together: a document with its signature, and what was read off its paper.
struct CertificateToVerify {
    std::string file;
    std::vector<std::string> keys;      ///< files of public keys
    std::string journal;                ///< where it should be on record; empty: not asked
    std::optional<std::string> printed; ///< SHA-256 of the digital certificate, as printed
    std::optional<std::string> code;    ///< what a camera read
};

/// Whether a file is a certificate's document and no journal, by its first bytes.
bool is_certificate(const std::string& file);

/// Says line by line what holds and what does not, and sets the exit code: 1 where anything does not hold, 2 where
/// nothing can be said.
void verify_certificate(const CertificateToVerify& what, int& exit_code);

/// The same with nothing but the code from the paper.
void verify_code(const std::string& text, const std::vector<std::string>& keys, int& exit_code);

} // namespace stillmark::cli
