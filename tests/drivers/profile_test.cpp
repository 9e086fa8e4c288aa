#include "drivers/profile.hpp"

#include <gtest/gtest.h>

#include <filesystem>

namespace stillmark::drivers {
namespace {

const std::string folder = STILLMARK_SOURCE_DIR "/drivers/profiles/";

TEST(Profiles, TheTransmitterOnRtu) {
    const auto profile = load_profile(folder + "invented-transmitter-rtu.json");
    ASSERT_TRUE(profile.has_value()) << profile.error().message;
    EXPECT_EQ(profile->unit.symbol, "bar");
    EXPECT_DOUBLE_EQ(*profile->resolution_pa, 100.0);
    EXPECT_DOUBLE_EQ(*profile->response_time_s, 0.05);
    EXPECT_DOUBLE_EQ(profile->latency_s, 0.002);
    EXPECT_EQ(profile->deadline.count(), 150);
    const auto& how = std::get<ModbusReading>(profile->how);
    EXPECT_EQ(how.kind, protocols::RegisterKind::input);
    EXPECT_EQ(how.type, NumberType::float32);
    EXPECT_EQ(how.order, ByteOrder::cdab);
    ASSERT_EQ(how.status.size(), 3U);
    EXPECT_EQ(how.status[0].address, 4);
    EXPECT_EQ(how.status[0].mask, 3);
}

TEST(Profiles, TheTransmitterOnTcp) {
    const auto profile = load_profile(folder + "invented-transmitter-tcp.json");
    ASSERT_TRUE(profile.has_value()) << profile.error().message;
    const auto& how = std::get<ModbusReading>(profile->how);
    EXPECT_EQ(how.type, NumberType::int32);
    EXPECT_EQ(how.scale, 0.001);
    ASSERT_EQ(how.sentinels.size(), 2U);
    EXPECT_EQ(how.sentinels[0].raw, -2147483648LL);
    EXPECT_EQ(how.sentinels[1].meaning, "over_range");
}

TEST(Profiles, TheGaugeWithLinesOfText) {
    const auto profile = load_profile(folder + "invented-digital-gauge.json");
    ASSERT_TRUE(profile.has_value()) << profile.error().message;
    EXPECT_DOUBLE_EQ(*profile->resolution_pa, 5000.0);
    const auto& how = std::get<TextReading>(profile->how);
    EXPECT_EQ(how.request, "PRES?");
    EXPECT_EQ(how.terminator, "\r\n");
    EXPECT_EQ(how.bad.size(), 3U);
}

TEST(Profiles, TheDial) {
    const auto profile = load_profile(folder + "invented-dial-gauge.json");
    ASSERT_TRUE(profile.has_value()) << profile.error().message;
    const auto& how = std::get<ManualReading>(profile->how);
    EXPECT_DOUBLE_EQ(how.division_si, 1e6);
    EXPECT_EQ(how.parts, 5);
    EXPECT_DOUBLE_EQ(*profile->resolution_pa, 2e5) << "what is estimated is what can be told apart";
}

TEST(Profiles, EveryProfileInTheFolderIsRead) {
    int count = 0;
    for (const auto& entry : std::filesystem::directory_iterator(folder)) {
        if (entry.path().extension() != ".json") continue;
        const auto profile = load_profile(entry.path().string());
        EXPECT_TRUE(profile.has_value()) << profile.error().message;
        ++count;
    }
    EXPECT_GE(count, 4);
}

TEST(Profiles, AFileThatIsNotThereIsNamed) {
    EXPECT_EQ(load_profile("/nowhere/x.json").error().message,
              "/nowhere/x.json: cannot be read; give the path of a profile file");
}

/// A right profile of each kind in which one piece of text is replaced.
const std::string modbus = R"({"profile": 1, "model": "m", "kind": "modbus", "unit": "bar", "resolution": "0.1 bar",
"response_time": "1 s", "latency": "0 s", "deadline": "200 ms",
"reading": {"function": "holding registers", "address": 0, "type": "int32", "order": "abcd", "scale": 1, "offset": 0,
"sentinels": [{"raw": -1, "means": "under_range"}],
"status": [{"function": "input registers", "address": 9, "mask": "0x0001", "means": "instrument_fault"}]}})";
const std::string text = R"({"profile": 1, "model": "m", "kind": "text", "unit": "bar",
"reading": {"request": "P", "terminator": "\n", "pattern": "([0-9]+) *", "bad": ["E"]}})";
const std::string manual = R"({"profile": 1, "model": "m", "kind": "manual", "unit": "bar",
"reading": {"division": "10 bar", "parts": 5}})";

TEST(Profile, AnIdentificationIsOptionalAndNamesARequestOfItsOwn) {
    const auto with = [](const std::string& identification) {
        std::string file = text;
        const std::string before = R"("bad": ["E"])";
        file.replace(file.find(before), before.size(), before + identification);
        return read_profile("x.json", file);
    };
    EXPECT_FALSE(std::get<TextReading>(with("")->how).identification.has_value());
    const auto read = with(R"(, "identification": {"request": "ID?", "pattern": "Invented .*"})");
    ASSERT_TRUE(read.has_value()) << read.error().message;
    EXPECT_EQ(std::get<TextReading>(read->how).identification->request, "ID?");
    EXPECT_EQ(with(R"(, "identification": {"request": "P", "pattern": "I"})").error().message,
              "x.json: reading.identification.request: give a line that is answered by another text than a reading");
    EXPECT_EQ(
        with(R"(, "identification": {"request": "ID?", "pattern": ".* bar"})").error().message,
        "x.json: reading.identification.pattern: it fits \"+12.345 bar\" too, which is a reading; begin it with a "
        "word of the identification");
    EXPECT_EQ(with(R"(, "identification": {"request": "ID?", "pattern": "I", "patern": 1})").error().message,
              R"(x.json: reading.identification.patern: unknown key; did you mean "pattern"?)");
}

struct Refusal {
    const std::string* of;
    const char* what;
    const char* by;
    const char* message;
};

TEST(ProfileMistakes, EachHasItsPlaceItsFindingAndItsRemedy) {
    const Refusal refusals[] = {
        {&modbus, R"("order": "abcd")", R"("order": "acbd")",
         R"(reading.order: "acbd" is not a byte order; use abcd, cdab, badc or dcba)"},
        {&modbus, R"("order": "abcd", )", "", "reading.order: this key is missing; add it"},
        {&modbus, R"("int32")", R"("int33")",
         R"(reading.type: "int33" is not a number type; use int16, uint16, int32, uint32, int64, uint64, float32 or float64)"},
        {&modbus, R"("int32", "order": "abcd")", R"("int16", "order": "cdab")",
         R"(reading.order: "cdab" swaps words, and 16 bits are one word; use abcd or badc)"},
        {&modbus, R"("function": "holding registers")", R"("function": "coils")",
         R"(reading.function: "coils" is not a function; use holding registers or input registers)"},
        {&modbus, R"("address": 0)", R"("address": 40001)",
         R"(reading.address: 40001 is a data-model number; give the protocol address, 0 (or "0x9C41" if 40001 is the protocol address))"},
        {&modbus, R"("address": 0)", R"("address": 65536)",
         "reading.address: 65536 is no whole number from 0 to 65535"},
        {&modbus, R"("address": 0)", R"("address": 65535)", "reading.address: 2 registers from 65535 end beyond 65535"},
        {&modbus, R"("address": 0)", R"("adress": 0)", "reading.address: this key is missing; add it"},
        {&modbus, R"("address": 0)", R"("address": 0, "adress": 0)",
         R"(reading.adress: unknown key; did you mean "address"?)"},
        {&modbus, R"("scale": 1)", R"("scale": 0)",
         "reading.scale: 0 makes every value the same; give the value of one count"},
        {&modbus, R"("scale": 1)", R"("scale": "1")", R"(reading.scale: "1" stands where a number belongs)"},
        {&modbus, R"("raw": -1)", R"("raw": 2147483648)",
         "reading.sentinels[0].raw: 2147483648 is no whole number from -2147483648 to 2147483647"},
        {&modbus, R"("means": "under_range")", R"("means": "low")",
         R"(reading.sentinels[0].means: "low" is not a meaning; use instrument_fault, under_range or over_range)"},
        {&modbus, R"("mask": "0x0001")", R"("mask": "0x0000")",
         R"(reading.status[0].mask: 0 selects no bit; name at least one, like "0x0001")"},
        {&modbus, R"("mask": "0x0001")", R"("mask": "0x10001")",
         R"(reading.status[0].mask: "0x10001" is no number of 16 bits; write it like "0x0003")"},
        {&modbus, R"("resolution": "0.1 bar")", R"("resolution": 0.1)",
         R"(resolution: 0.1 has no unit; write a quantity as text with its unit, such as "0.05 bar" or "50 ms")"},
        {&modbus, R"("response_time": "1 s")", R"("response_time": "0 s")",
         "response_time: a response time is greater than 0"},
        {&modbus, R"("deadline": "200 ms")", R"("deadline": "0 ms")", "deadline: give 1 ms to 60 s"},
        {&modbus, R"("unit": "bar")", R"("unit": "barg")",
         R"(unit: "barg" is no unit of pressure; use one such as bar, kPa, MPa or psi)"},
        {&modbus, R"("profile": 1)", R"("profile": 2)", "profile: 2 is no whole number from 1 to 1"},
        {&modbus, R"("kind": "modbus")", R"("kind": "hart")",
         R"(kind: "hart" is not a kind of profile; use modbus, text or manual)"},
        {&modbus, R"("model": "m")", R"("model": 5)", "model: 5 stands where text in quotes belongs"},
        {&modbus, R"("model": "m")", R"("model": "m", "model": "n")",
         R"(the key "model" stands twice in one object; keep one)"},
        {&modbus, R"("offset": 0,)", R"("offset": 0)",
         "line 4, near column 11: not JSON; look for a missing or extra comma, quote or bracket just before it"},
        {&text, "([0-9]+) *", "([0-9]+ *", nullptr},
        {&text, "([0-9]+) *", "[0-9]+ *",
         "reading.pattern: 0 groups; give one for the number and, if the reply carries it, one for the unit; others "
         "are "
         "written (?:...)"},
        {&text, R"("terminator": "\n")", R"("terminator": "")",
         R"(reading.terminator: give one to four characters, most often "\r\n")"},
        {&text, R"("request": "P")", R"("request": "P\n")",
         "reading.request: it holds the terminator, which is added when it is sent; leave it out"},
        {&text, R"(["E"])", R"([""])", R"(reading.bad[0]: "" stands where the beginning of a reply belongs)"},
        {&text, R"(["E"])", R"("E")", R"(reading.bad: "E" stands where a list [...] belongs)"},
        {&manual, R"("division": "10 bar")", R"("division": "0 bar")",
         "reading.division: a division is greater than 0"},
        {&manual, R"("division": "10 bar", )", "", "reading.division: this key is missing; add it"},
        {&manual, R"("parts": 5)", R"("parts": 4)",
         "reading.parts: 4 is no usual part of a division; use 1, 2, 5 or 10"},
        {&manual, R"("unit": "bar")", R"("unit": "bar", "deadline": "1 s")",
         "deadline: unknown key; known here are kind, model, profile, reading, unit"},
    };
    for (const auto& refusal : refusals) {
        std::string file = *refusal.of;
        const auto at = file.find(refusal.what);
        ASSERT_NE(at, std::string::npos) << refusal.what;
        file.replace(at, std::string(refusal.what).size(), refusal.by);
        const auto profile = read_profile("x.json", file);
        ASSERT_TRUE(profile.has_error()) << refusal.by;
        if (refusal.message == nullptr) {
            EXPECT_TRUE(profile.error().message.starts_with(
                "x.json: reading.pattern: \"([0-9]+ *\" is no regular expression: "))
                << profile.error().message;
        } else {
            EXPECT_EQ(profile.error().message, std::string("x.json: ") + refusal.message);
        }
    }
    for (const auto* right : {&modbus, &text, &manual}) {
        const auto profile = read_profile("x.json", *right);
        EXPECT_TRUE(profile.has_value()) << profile.error().message;
    }
}

TEST(ProfileMistakes, AQuantityOfAnotherDimensionIsRefused) {
    std::string file = modbus;
    file.replace(file.find("\"0.1 bar\""), 9, "\"0.1 mm\"");
    const auto profile = read_profile("x.json", file);
    ASSERT_TRUE(profile.has_error());
    EXPECT_TRUE(profile.error().message.starts_with("x.json: resolution: ")) << profile.error().message;
}

TEST(ProfileMistakes, AnAddressInTheDataModelsRangeCanBeMeantAsItStands) {
    std::string file = modbus;
    file.replace(file.find("\"address\": 0"), 12, "\"address\": \"0x9C41\"");
    const auto profile = read_profile("x.json", file);
    ASSERT_TRUE(profile.has_value()) << profile.error().message;
    EXPECT_EQ(std::get<ModbusReading>(profile->how).address, 40001);
}

TEST(ProfileMistakes, NoFileMakesTheReaderFall) {
    for (const auto* right : {&modbus, &text, &manual}) {
        for (std::size_t cut = 0; cut < right->size(); ++cut) {
            const auto profile = read_profile("x.json", right->substr(0, cut));
            EXPECT_TRUE(profile.has_error()) << cut;
        }
        for (std::size_t i = 0; i < right->size(); ++i) {
            for (const char other : {'"', '{', '[', '9', 'x', '\0', '\xFF'}) {
                std::string changed = *right;
                changed[i] = other;
                const auto profile = read_profile("x.json", changed);
                if (profile.has_error()) {
                    EXPECT_TRUE(profile.error().message.starts_with("x.json: "));
                }
            }
        }
    }
    for (const char* other : {"null", "[]", "5", "\"text\"", "{}", "", "1e999", "[[[[[[[[[["}) {
        EXPECT_TRUE(read_profile("x.json", other).has_error()) << other;
    }
}

} // namespace
} // namespace stillmark::drivers
