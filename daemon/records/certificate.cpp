#include "daemon/records/certificate.hpp"

#include "daemon/records/record_error.hpp"

#include <boost/throw_exception.hpp>

#include <stdexcept>

namespace stillmark::records {

const char* code(Language language) {
    return language == Language::german ? "de" : "en";
}

std::optional<Language> language_of(const std::string& code) {
    if (code == "en") return Language::english;
    if (code == "de") return Language::german;
    return std::nullopt;
}

std::vector<std::pair<const char*, const Basis*>> bases_of(const Summary& at) {
    std::vector<std::pair<const char*, const Basis*>> list;
    if (at.rising) list.emplace_back("rising", &*at.rising);
    if (at.falling) list.emplace_back("falling", &*at.falling);
    if (at.mean) list.emplace_back("mean", &*at.mean);
    return list;
}

void throw_exception_from_error(const RecordError& error, const boost::source_location& at) {
    boost::throw_exception(std::runtime_error(error.message), at);
}

} // namespace stillmark::records
