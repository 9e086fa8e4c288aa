#include "drivers/profile.hpp"

#include "drivers/pattern.hpp"
#include "drivers/register_words.hpp"
#include "drivers/strict_json.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>

namespace stillmark::drivers {
namespace {

using protocols::RegisterKind;

const std::vector<std::string> functions{"holding registers", "input registers"};
const std::vector<std::string> number_types{"int16", "uint16", "int32",   "uint32",
                                            "int64", "uint64", "float32", "float64"};
const std::vector<std::string> byte_orders{"abcd", "cdab", "badc", "dcba"};
const std::vector<std::string> meanings{"instrument_fault", "under_range", "over_range"};

constexpr std::int64_t version = 1;

RegisterKind read_function(JsonObject& from) {
    return from.choice("function", "a function", functions) == 0 ? RegisterKind::holding : RegisterKind::input;
}

/// A 16-bit number as JSON number or as text such as "0x0003".
std::optional<std::int64_t> read_word(JsonObject& from, const std::string& key) {
    const auto* found = from.require(key);
    if (found == nullptr || !found->is_string()) return from.integer(key, 0, 0xFFFF);
    const auto& text = found->get_ref<const std::string&>();
    const bool hexadecimal = text.size() > 2 && text.size() <= 6 && text.starts_with("0x") &&
                             text.find_first_not_of("0123456789abcdefABCDEF", 2) == std::string::npos;
    if (hexadecimal) return std::stol(text.substr(2), nullptr, 16);
    from.note(key, fmt::format("{} is no number of 16 bits; write it like \"0x0003\"", shown(*found)));
    return std::nullopt;
}

// A number of the data model instead of an address reads the wrong registers without a word.
std::uint16_t read_address(JsonObject& from, RegisterKind kind, int words) {
    const auto address = read_word(from, "address");
    if (!address) return 0;
    const std::int64_t model = kind == RegisterKind::holding ? 40001 : 30001;
    if (from.find("address")->is_number() && *address >= model && *address < model + 9999) {
        from.note("address",
                  fmt::format("{} is a data-model number; give the protocol address, {} (or \"0x{:04X}\" if {} "
                              "is the protocol address)",
                              *address, *address - model, *address, *address));
    }
    if (*address + words > 0x10000) {
        from.note("address", fmt::format("{} registers from {} end beyond 65535", words, *address));
    }
    return static_cast<std::uint16_t>(*address);
}

ByteOrder read_order(JsonObject& from, NumberType type) {
    const int words = words_of(type);
    if (words == 1 && from.find("order") == nullptr) return ByteOrder::abcd;
    const auto order = static_cast<ByteOrder>(from.choice("order", "a byte order", byte_orders));
    if (words == 1 && (order == ByteOrder::cdab || order == ByteOrder::dcba)) {
        from.note("order", fmt::format("{} swaps words, and 16 bits are one word; use abcd or badc",
                                       shown(*from.find("order"))));
    }
    return order;
}

Sentinel read_sentinel(JsonObject from, NumberType type) {
    Sentinel sentinel{};
    const auto [lowest, highest] = raw_limits(type);
    const auto* raw = from.require("raw");
    if (raw != nullptr && type == NumberType::uint64 && raw->is_number_unsigned()) {
        sentinel.raw = static_cast<std::int64_t>(raw->get<std::uint64_t>());
    } else {
        sentinel.raw = from.integer("raw", lowest, highest).value_or(0);
    }
    sentinel.meaning = meanings[from.choice("means", "a meaning", meanings)];
    from.refuse_unknown_keys();
    return sentinel;
}

StatusBits read_status(JsonObject from) {
    StatusBits bits{};
    bits.kind = read_function(from);
    bits.address = read_address(from, bits.kind, 1);
    bits.mask = static_cast<std::uint16_t>(read_word(from, "mask").value_or(1));
    if (bits.mask == 0) from.note("mask", "0 selects no bit; name at least one, like \"0x0001\"");
    bits.meaning = meanings[from.choice("means", "a meaning", meanings)];
    from.refuse_unknown_keys();
    return bits;
}

ModbusReading read_modbus(JsonObject& from, Mistake& mistake) {
    ModbusReading how;
    how.kind = read_function(from);
    how.type = static_cast<NumberType>(from.choice("type", "a number type", number_types));
    how.address = read_address(from, how.kind, words_of(how.type));
    how.order = read_order(from, how.type);
    how.scale = from.number("scale").value_or(1.0);
    if (how.scale == 0) from.note("scale", "0 makes every value the same; give the value of one count");
    how.offset = from.number("offset").value_or(0.0);
    const auto element = [&from](const char* key, std::size_t index) {
        return fmt::format("{}[{}]", from.place_of(key), index);
    };
    for (const auto* entry : from.list("sentinels")) {
        how.sentinels.push_back(read_sentinel({*entry, element("sentinels", how.sentinels.size()), mistake}, how.type));
    }
    for (const auto* entry : from.list("status")) {
        how.status.push_back(read_status({*entry, element("status", how.status.size()), mistake}));
    }
    return how;
}

bool read_expression(JsonObject& from, std::regex& into, std::string& text) {
    text = from.text("pattern");
    std::string why;
    auto pattern = compile_pattern(text, why);
    if (!pattern) {
        from.note("pattern", fmt::format("{} is no regular expression: {}", shown(*from.find("pattern")), why));
        return false;
    }
    into = std::move(*pattern);
    return true;
}

void read_pattern(JsonObject& from, TextReading& how) {
    if (!read_expression(from, how.pattern, how.pattern_text)) return;
    const auto groups = how.pattern.mark_count();
    if (groups < 1 || groups > 2) {
        from.note("pattern", fmt::format("{} groups; give one for the number and, if the reply carries it, one for the "
                                         "unit; others are written (?:...)",
                                         groups));
    }
}

TextIdentification read_identification(JsonObject from, const TextReading& how) {
    TextIdentification identification;
    identification.request = from.text("request");
    if (identification.request.empty() || identification.request == how.request) {
        from.note("request", "give a line that is answered by another text than a reading");
    } else if (!how.terminator.empty() && identification.request.find(how.terminator) != std::string::npos) {
        from.note("request", "it holds the terminator, which is added when it is sent; leave it out");
    }
    if (read_expression(from, identification.pattern, identification.pattern_text)) {
        // Every reading would be taken for an answer to the other request.
        for (const char* reading : {"0", "12.345", "+12.345 bar"})
            if (std::regex_match(reading, identification.pattern)) {
                from.note("pattern", fmt::format("it fits \"{}\" too, which is a reading; begin it with a word of the "
                                                 "identification",
                                                 reading));
                break;
            }
    }
    from.refuse_unknown_keys();
    return identification;
}

TextReading read_text(JsonObject& from, Mistake& mistake) {
    TextReading how;
    how.request = from.text("request");
    how.terminator = from.text("terminator");
    if (how.terminator.empty() || how.terminator.size() > 4) {
        from.note("terminator", "give one to four characters, most often \"\\r\\n\"");
    } else if (how.request.find(how.terminator) != std::string::npos) {
        from.note("request", "it holds the terminator, which is added when it is sent; leave it out");
    }
    read_pattern(from, how);
    for (const auto* entry : from.list("bad")) {
        const std::string place = fmt::format("bad[{}]", how.bad.size());
        how.bad.push_back(entry->is_string() ? entry->get<std::string>() : std::string());
        if (how.bad.back().empty()) {
            from.note(place, fmt::format("{} stands where the beginning of a reply belongs", shown(*entry)));
        }
    }
    if (const auto* entry = from.find("identification"))
        how.identification = read_identification({*entry, from.place_of("identification"), mistake}, how);
    return how;
}

ManualReading read_manual(JsonObject& from) {
    ManualReading how;
    from.require("division");
    how.division_si = from.quantity("division", Dimension::pressure).value_or(1.0);
    if (how.division_si <= 0) from.note("division", "a division is greater than 0");
    how.parts = static_cast<int>(from.integer("parts", 1, 10).value_or(1));
    if (how.parts != 1 && how.parts != 2 && how.parts != 5 && how.parts != 10) {
        from.note("parts", fmt::format("{} is no usual part of a division; use 1, 2, 5 or 10", how.parts));
    }
    return how;
}

void read_times(JsonObject& from, Profile& profile) {
    auto& resolution = profile.signal ? profile.resolution_si : profile.resolution_pa;
    resolution = from.quantity("resolution", profile.signal.value_or(Dimension::pressure));
    if (resolution && *resolution <= 0) from.note("resolution", "a step is greater than 0");
    profile.response_time_s = from.quantity("response_time", Dimension::time);
    if (profile.response_time_s && *profile.response_time_s <= 0) {
        from.note("response_time", "a response time is greater than 0");
    }
    profile.latency_s = from.quantity("latency", Dimension::time).value_or(0.0);
    if (profile.latency_s < 0) from.note("latency", "a latency is not negative");
    if (const auto deadline = from.quantity("deadline", Dimension::time)) {
        if (*deadline < 0.001 || *deadline > 60)
            from.note("deadline", "give 1 ms to 60 s");
        else
            profile.deadline = std::chrono::milliseconds(std::lround(*deadline * 1000));
    }
}

Profile read_all(const nlohmann::json& file, Mistake& mistake) {
    Profile profile;
    JsonObject top(file, "", mistake);
    top.integer("profile", version, version);
    profile.model = top.text("model");
    const auto kind = top.choice("kind", "a kind of profile", {"modbus", "text", "manual"});
    const std::string symbol = top.text("unit");
    if (const auto unit = pressure_unit(symbol))
        profile.unit = *unit;
    else if (profile.signal = signal_dimension(symbol); profile.signal && kind != 2)
        profile.unit.symbol = symbol;
    else
        top.note("unit", fmt::format("\"{}\" is no unit of pressure; use one such as bar, kPa, MPa or psi", symbol));

    const auto* reading = top.require("reading");
    const nlohmann::json nothing = nlohmann::json::object();
    JsonObject how(reading == nullptr ? nothing : *reading, "reading", mistake);
    if (kind == 0) {
        read_times(top, profile);
        profile.how = read_modbus(how, mistake);
    } else if (kind == 1) {
        read_times(top, profile);
        profile.how = read_text(how, mistake);
    } else {
        const auto manual = read_manual(how);
        profile.resolution_pa = manual.division_si / manual.parts;
        profile.how = manual;
    }
    top.refuse_unknown_keys();
    how.refuse_unknown_keys();
    return profile;
}

} // namespace

Profile through(Profile profile, const Characteristic& nominal) {
    const double pa_per_si = (nominal.high_pa - nominal.low_pa) / (nominal.high_si - nominal.low_si);
    profile.unit.pascals = pa_per_si * signal_in_si(profile.unit.symbol);
    profile.unit.pascals_at_zero = nominal.low_pa - nominal.low_si * pa_per_si;
    if (profile.resolution_si) profile.resolution_pa = *profile.resolution_si * std::abs(pa_per_si);
    return profile;
}

void throw_exception_from_error(const FileError& error, const boost::source_location& at) {
    fmt::print(stderr, "{}:{}: a file's mistake was taken for a value: {}\n", at.file_name(), at.line(), error.message);
    std::abort();
}

FileResult<Profile> read_profile(const std::string& name, const std::string& text) {
    Mistake mistake;
    const auto file = parse_strictly(text, mistake);
    if (!mistake.found()) {
        Profile profile = read_all(file, mistake);
        if (!mistake.found()) return profile;
    }
    return FileError{fmt::format("{}: {}", name, mistake.message())};
}

FileResult<Profile> load_profile(const std::string& path) {
    const std::string name = std::filesystem::path(path).filename().string();
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    if (file) text << file.rdbuf();
    if (!file || !text) return FileError{fmt::format("{}: cannot be read; give the path of a profile file", path)};
    return read_profile(name, text.str());
}

} // namespace stillmark::drivers
