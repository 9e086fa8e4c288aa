#include "daemon/journal/memory.hpp"

#include "daemon/seal/whole_file.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>

namespace stillmark::journal {

namespace {

using nlohmann::json;

constexpr int memory_version = 1;

JournalError wrong_memory(const std::string& path, const std::string& found) {
    return {fmt::format("{}: {}; put back the file from the latest back-up. Without it no certificate gets a number",
                        path, found)};
}

/// The whole file, checked as far as this build knows it; an empty memory where there is none.
JournalResult<json> memory_in(const std::string& path) {
    std::error_code error;
    if (!std::filesystem::exists(std::filesystem::symlink_status(path, error)))
        return {boost::system::in_place_value,
                json{{"version", memory_version}, {"certificates", {{"highest", json::object()}}}}};
    const auto text = seal::read_small_file(path, seal::ReadableBy::everybody);
    if (!text) return JournalError{text.error().message};
    json memory = json::parse(*text, nullptr, false);
    if (!memory.is_object()) return wrong_memory(path, "is not the JSON object that the service wrote");
    const auto version = memory.find("version");
    if (version == memory.end() || !version->is_number_integer() || *version < 1)
        return wrong_memory(path, "has no \"version\"");
    if (*version > memory_version)
        return JournalError{
            fmt::format("{}: has version {}, this build knows version {}; use the stillmark that wrote it", path,
                        version->dump(), memory_version)};
    const auto certificates = memory.find("certificates");
    const bool has_numbers = certificates != memory.end() && certificates->is_object() &&
                             certificates->contains("highest") && (*certificates)["highest"].is_object();
    if (!has_numbers) return wrong_memory(path, "has no highest certificate numbers");
    for (const auto& [series, count] : (*certificates)["highest"].items())
        if (!count.is_number_integer() || count < 0)
            return wrong_memory(path,
                                fmt::format("the highest number of {} is {}, no whole number", series, count.dump()));
    return {boost::system::in_place_value, std::move(memory)};
}

JournalResult<void> write_memory(const std::string& path, const json& memory) {
    const auto written =
        seal::write_whole_file(path, memory.dump(1) + "\n", seal::ReadableBy::its_owner, seal::Present::is_replaced);
    if (!written) return JournalError{written.error().message};
    return {};
}

/// True where something rose.
bool raise(json& highest, const std::string& series, std::int64_t count) {
    const auto known = highest.find(series);
    if (known != highest.end() && known->get<std::int64_t>() >= count) return false;
    highest[series] = count;
    return true;
}

} // namespace

std::string memory_path(const std::string& key_path) {
    return key_path + ".memory";
}

JournalResult<HighestNumbers> remembered_numbers(const std::string& path) {
    const auto memory = memory_in(path);
    if (!memory) return memory.error();
    return (*memory)["certificates"]["highest"].get<HighestNumbers>();
}

JournalResult<void> remember_numbers(const std::string& path, const HighestNumbers& numbers) {
    auto memory = memory_in(path);
    if (!memory) return memory.error();
    json& highest = (*memory)["certificates"]["highest"];
    bool rose = false;
    for (const auto& [series, count] : numbers)
        rose = raise(highest, series, count) || rose;
    return rose ? write_memory(path, *memory) : JournalResult<void>();
}

JournalResult<void> remember_all_of(const std::string& path, const std::string& other) {
    auto memory = memory_in(path);
    if (!memory) return memory.error();
    const auto more = memory_in(other);
    if (!more) return more.error();
    const json before = *memory;
    for (const auto& [series, count] : (*more)["certificates"]["highest"].items())
        raise((*memory)["certificates"]["highest"], series, count.get<std::int64_t>());
    for (const auto& [key, value] : more->items())
        if (!memory->contains(key)) (*memory)[key] = value;
    std::error_code error;
    if (*memory == before && std::filesystem::exists(path, error)) return {};
    return write_memory(path, *memory);
}

} // namespace stillmark::journal
