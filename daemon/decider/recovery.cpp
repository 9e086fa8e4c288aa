#include "daemon/decider/recovery.hpp"

#include "daemon/journal/database.hpp"
#include "drivers/driver.hpp"

#include <fmt/format.h>

#include <chrono>
#include <filesystem>

namespace stillmark::decider {

namespace {

/// A service that ended while it made its journal leaves a database without a table, which its next start makes full.
bool holds_nothing_yet(const std::string& journal_path) {
    const auto database =
        journal::Database::open(journal_path, journal::Database::Access::read, std::chrono::seconds(1));
    if (!database) return false;
    const auto tables = (*database)->ask("SELECT count(*) FROM sqlite_schema");
    return tables && *tables == 0;
}

} // namespace

journal::JournalResult<Recovered> recover(const std::string& journal_path) {
    Recovered recovered;
    std::error_code error;
    if (!std::filesystem::exists(journal_path, error)) return recovered;
    if (holds_nothing_yet(journal_path)) return recovered;
    auto reader = journal::JournalReader::open(journal_path);
    if (!reader) return reader.error();
    std::string mistake;
    const auto walked = (*reader)->events([&](const journal::EventRecord& record) {
        std::string why;
        auto fact = bench::fact_from_text(record.body, why);
        if (!fact) {
            mistake = fmt::format("{}: event {}: {}; a newer stillmark may know it", journal_path, record.number, why);
            return false;
        }
        bench::apply(recovered.state, {record.number, record.at_us, std::move(*fact)});
        return true;
    });
    if (!walked) return walked.error();
    if (!mistake.empty()) return journal::JournalError{mistake};
    const auto last = (*reader)->last_number();
    if (!last) return last.error();
    recovered.last_number = *last;
    return recovered;
}

std::vector<double> good_readings(const std::string& journal_path, std::uint32_t channel, std::uint64_t from,
                                  std::uint64_t last) {
    std::vector<double> values;
    auto reader = journal::JournalReader::open(journal_path);
    if (!reader) return values;
    const auto readings = (*reader)->readings(channel, from + 1, last);
    if (!readings) return values;
    for (const auto& reading : *readings)
        if (reading.status == static_cast<std::uint8_t>(drivers::ReadingStatus::good)) values.push_back(reading.value);
    return values;
}

} // namespace stillmark::decider
