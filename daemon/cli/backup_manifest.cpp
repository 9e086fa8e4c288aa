#include "daemon/cli/backup_manifest.hpp"

#include "daemon/records/issued_documents.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>

namespace stillmark::cli {

namespace {

constexpr const char* manifest_kind = "stillmark backup";
constexpr int manifest_version = 1;

journal::JournalError wrong_manifest(const std::string& path, const std::string& found) {
    return {fmt::format("{}: {}; give the folder that stillmark backup made", path, found)};
}

std::string text_at(const nlohmann::json& from, const char* key) {
    const auto found = from.find(key);
    return found != from.end() && found->is_string() ? found->get<std::string>() : "";
}

std::int64_t whole_number_at(const nlohmann::json& from, const char* key) {
    const auto found = from.find(key);
    return found != from.end() && found->is_number_integer() ? found->get<std::int64_t>() : -1;
}

} // namespace

bool stays_below(const std::string& path) {
    const std::filesystem::path parts(path);
    return !path.empty() && parts.is_relative() && path.find('\0') == std::string::npos &&
           std::ranges::none_of(parts, [](const auto& part) { return part == ".." || part == "." || part.empty(); });
}

std::string manifest_text(const BackupManifest& manifest) {
    nlohmann::json files = nlohmann::json::array(), left_out = nlohmann::json::array();
    for (const auto& one : manifest.files)
        files.push_back({{"path", one.path}, {"bytes", one.content.bytes}, {"sha256", seal::hex(one.content.sha256)}});
    for (const auto& one : manifest.left_out)
        left_out.push_back({{"what", one.what}, {"why", one.why}, {"remedy", one.remedy}});
    const nlohmann::json all{{"kind", manifest_kind},
                             {"version", manifest_version},
                             {"made_utc", manifest.made_utc},
                             {"journal", {{"number", manifest.journal_number}, {"digest", manifest.journal_digest}}},
                             {"key_fingerprint", manifest.key_fingerprint},
                             {"files", std::move(files)},
                             {"left_out", std::move(left_out)}};
    return all.dump(1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

journal::JournalResult<BackupManifest> manifest_in(const std::string& folder) {
    const auto path = (std::filesystem::path(folder) / manifest_name).string();
    const auto text = records::document_at(path);
    if (!text) return wrong_manifest(path, "cannot be read");
    const auto all = nlohmann::json::parse(*text, nullptr, false);
    if (!all.is_object() || text_at(all, "kind") != manifest_kind) return wrong_manifest(path, "is no manifest");
    if (whole_number_at(all, "version") != manifest_version)
        return journal::JournalError{
            fmt::format("{}: is of another version than {}; use the stillmark that made it", path, manifest_version)};
    BackupManifest manifest;
    manifest.made_utc = text_at(all, "made_utc");
    manifest.key_fingerprint = text_at(all, "key_fingerprint");
    if (const auto found = all.find("journal"); found != all.end() && found->is_object()) {
        manifest.journal_number = whole_number_at(*found, "number");
        manifest.journal_digest = text_at(*found, "digest");
    }
    const auto files = all.find("files");
    if (files == all.end() || !files->is_array()) return wrong_manifest(path, "names no files");
    for (const auto& one : *files) {
        const auto name = one.is_object() ? text_at(one, "path") : "";
        const auto digest = one.is_object() ? seal::digest_from_hex(text_at(one, "sha256")) : std::nullopt;
        if (!stays_below(name) || !digest || whole_number_at(one, "bytes") < 0)
            return wrong_manifest(path, fmt::format("names a file that cannot be of a back-up ({})", one.dump()));
        manifest.files.push_back({name, {static_cast<std::uint64_t>(whole_number_at(one, "bytes")), *digest}});
    }
    if (const auto list = all.find("left_out"); list != all.end() && list->is_array())
        for (const auto& one : *list)
            if (one.is_object())
                manifest.left_out.push_back({text_at(one, "what"), text_at(one, "why"), text_at(one, "remedy")});
    if (std::ranges::find(manifest.files, std::string(journal_in_backup), &BackedUpFile::path) == manifest.files.end())
        return wrong_manifest(path, "names no journal");
    return manifest;
}

} // namespace stillmark::cli
