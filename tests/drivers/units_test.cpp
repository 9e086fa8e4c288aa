#include "drivers/units.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <locale>
#include <numbers>
#include <stdexcept>
#include <string>

namespace stillmark::drivers {
namespace {

double si(const std::string& text, Dimension dimension) {
    const auto value = parse_quantity(text, dimension);
    EXPECT_TRUE(value.has_value()) << text << ": " << value.error().message;
    return value.has_value() ? *value : std::nan("");
}

std::string refusal(const std::string& text, Dimension dimension) {
    const auto value = parse_quantity(text, dimension);
    return value.has_value() ? "accepted" : value.error().message;
}

double pascals(const std::string& symbol) {
    const auto unit = pressure_unit(symbol);
    EXPECT_TRUE(unit.has_value()) << symbol;
    return unit ? unit->pascals : std::nan("");
}

// Published: NIST SP 811 (2008), B.8 and B.9: the seven digits that it prints, and the exact values that the
// definitions give. `half_digit` is half a unit of its last printed digit.
void as_published(const std::string& symbol, double printed, double half_digit, double exact) {
    EXPECT_NEAR(pascals(symbol), printed, half_digit) << symbol;
    EXPECT_NEAR(pascals(symbol) / exact, 1, 1e-12) << symbol;
    EXPECT_NEAR(si("1 " + symbol, Dimension::pressure) / exact, 1, 1e-12) << symbol;
}

TEST(PressureUnits, PoundPerSquareInch) {
    as_published("psi", 6.894757e3, 5e-4, 6894.757293168361);
}
TEST(PressureUnits, KipPerSquareInch) {
    as_published("ksi", 6.894757e6, 0.5, 6894757.293168361);
}
TEST(PressureUnits, PoundPerSquareFoot) {
    as_published("psf", 4.788026e1, 5e-6, 47.88025898033584);
}
TEST(PressureUnits, KilogramForcePerSquareCentimetreIsExact) {
    EXPECT_EQ(pascals("kgf/cm2"), 98066.5);
}
TEST(PressureUnits, KilogramForcePerSquareMillimetreIsExact) {
    EXPECT_EQ(pascals("kgf/mm2"), 9806650);
}
TEST(PressureUnits, AtmosphereIsExact) {
    EXPECT_EQ(pascals("atm"), 101325);
}
TEST(PressureUnits, BarIsExact) {
    EXPECT_EQ(pascals("bar"), 1e5);
}
TEST(PressureUnits, Torr) {
    as_published("torr", 1.333224e2, 5e-5, 133.3223684210526);
    EXPECT_EQ(pascals("Torr"), pascals("torr"));
}
TEST(PressureUnits, ConventionalMillimetreOfMercury) {
    as_published("mmHg", 1.333224e2, 5e-5, 133.322387415);
    EXPECT_NEAR(pascals("mmHg") / pascals("torr") - 1, 1.42466e-7, 5e-13);
}
TEST(PressureUnits, ConventionalInchOfMercury) {
    as_published("inHg", 3.386389e3, 5e-4, 3386.388640341);
}
TEST(PressureUnits, ConventionalFootOfMercury) {
    as_published("ftHg", 4.063666e4, 5e-3, 40636.663684092);
}
TEST(PressureUnits, InchOfMercuryAt32DegF) {
    EXPECT_NEAR(pascals("inHg@32degF"), 3.38638e3, 5e-3);
}
TEST(PressureUnits, InchOfMercuryAt60DegF) {
    EXPECT_NEAR(pascals("inHg@60degF"), 3.37685e3, 5e-3);
}
TEST(PressureUnits, ConventionalMillimetreOfWater) {
    EXPECT_DOUBLE_EQ(pascals("mmH2O"), 9.80665);
}
TEST(PressureUnits, ConventionalInchOfWater) {
    as_published("inH2O", 2.490889e2, 5e-5, 249.08891);
}
TEST(PressureUnits, ConventionalFootOfWater) {
    as_published("ftH2O", 2.989067e3, 5e-4, 2989.06692);
}
TEST(PressureUnits, CentimetreOfWaterAt4DegC) {
    as_published("cmH2O@4degC", 9.80638e1, 5e-5, 98.063754138);
}
TEST(PressureUnits, InchOfWaterAt39DegF) {
    EXPECT_NEAR(pascals("inH2O@39.2degF"), 2.49082e2, 5e-4);
}
TEST(PressureUnits, FootOfWaterAt39DegF) {
    EXPECT_NEAR(pascals("ftH2O@39.2degF"), 2.98898e3, 5e-3);
}
TEST(PressureUnits, InchOfWaterAt60DegF) {
    EXPECT_NEAR(pascals("inH2O@60degF"), 2.4884e2, 5e-3);
}
TEST(PressureUnits, ComputedRegressionInchOfWaterAt68DegF) {
    EXPECT_NEAR(pascals("inH2O@68degF"), 248.6422302, 1.5e-6);
}
TEST(PressureUnits, ConventionalColumnsDifferFromThoseWithATemperature) {
    EXPECT_GT(pascals("inH2O"), pascals("inH2O@39.2degF"));
    EXPECT_GT(pascals("inH2O@39.2degF"), pascals("inH2O@60degF"));
    EXPECT_GT(pascals("inH2O@60degF"), pascals("inH2O@68degF"));
    EXPECT_GT(pascals("inHg@32degF"), pascals("inHg@60degF"));
}
TEST(PressureUnits, DecimalMultiplesAreExact) {
    EXPECT_EQ(pascals("Pa"), 1);
    EXPECT_EQ(pascals("hPa"), 100);
    EXPECT_EQ(pascals("kPa"), 1000);
    EXPECT_EQ(pascals("MPa"), 1e6);
    EXPECT_EQ(pascals("GPa"), 1e9);
    EXPECT_EQ(pascals("mbar"), 100);
    EXPECT_EQ(pascals("N/mm2"), 1e6);
}
TEST(PressureUnits, UnknownSymbolIsNone) {
    EXPECT_FALSE(pressure_unit("kg").has_value());
    EXPECT_FALSE(pressure_unit("").has_value());
    EXPECT_FALSE(pressure_unit("Bar").has_value());
    EXPECT_EQ(pressure_unit("bar")->symbol, "bar");
}

// Common practice: about 140 bar is about 2000 psi.
TEST(Quantities, TwoThousandPsiIsAbout140Bar) {
    EXPECT_NEAR(si("2000 psi", Dimension::pressure), si("140 bar", Dimension::pressure), 2.5e5);
}

TEST(Quantities, OfEveryDimension) {
    EXPECT_EQ(si("140 bar", Dimension::pressure), 14e6);
    EXPECT_EQ(si("23.5 degC", Dimension::temperature), 23.5);
    EXPECT_NEAR(si("293.15 K", Dimension::temperature), 20, 1e-13);
    EXPECT_EQ(si("32 degF", Dimension::temperature), 0);
    EXPECT_EQ(si("212 degF", Dimension::temperature), 100);
    EXPECT_EQ(si("0.5 K", Dimension::temperature_interval), 0.5);
    EXPECT_EQ(si("60 mg", Dimension::mass), 60e-6);
    EXPECT_EQ(si("12 g", Dimension::mass), 0.012);
    EXPECT_EQ(si("1 lb", Dimension::mass), 0.45359237);
    EXPECT_EQ(si("7.92 g/cm3", Dimension::density), 7920);
    EXPECT_EQ(si("7920 kg/m3", Dimension::density), 7920);
    EXPECT_EQ(si("85 mm", Dimension::length), 0.085);
    EXPECT_EQ(si("3 um", Dimension::length), 3e-6);
    EXPECT_EQ(si("1 in", Dimension::length), 0.0254);
    EXPECT_DOUBLE_EQ(si("1 ft", Dimension::length), 0.3048);
    EXPECT_EQ(si("80.65 mm2", Dimension::area), 80.65 / 1e6);
    EXPECT_EQ(si("1 cm2", Dimension::area), 1e-4);
    EXPECT_DOUBLE_EQ(si("1 in2", Dimension::area), 6.4516e-4);
    EXPECT_EQ(si("150 mm3", Dimension::volume), 1.5e-7);
    EXPECT_EQ(si("2 l", Dimension::volume), 2e-3);
    EXPECT_EQ(si("2 ml", Dimension::volume), 2e-6);
    EXPECT_EQ(si("50 ms", Dimension::time), 0.05);
    EXPECT_EQ(si("4 h", Dimension::time), 14400);
    EXPECT_EQ(si("1 d", Dimension::time), 86400);
    EXPECT_DOUBLE_EQ(si("0.6 mm/min", Dimension::speed), 1e-5);
    EXPECT_EQ(si("9.80731 m/s2", Dimension::acceleration), 9.80731);
    EXPECT_EQ(si("980665 mGal", Dimension::acceleration), 9.80665);
    EXPECT_EQ(si("0.8 mrad", Dimension::angle), 0.8e-3);
    EXPECT_DOUBLE_EQ(si("180 deg", Dimension::angle), std::numbers::pi);
    EXPECT_DOUBLE_EQ(si("60 arcmin", Dimension::angle), std::numbers::pi / 180);
    EXPECT_DOUBLE_EQ(si("3600 arcsec", Dimension::angle), std::numbers::pi / 180);
    EXPECT_EQ(si("30.5 mN/m", Dimension::surface_tension), 0.0305);
    EXPECT_EQ(si("16.5e-6 1/K", Dimension::per_kelvin), 16.5e-6);
    EXPECT_EQ(si("16.5 ppm/K", Dimension::per_kelvin), 16.5e-6);
    EXPECT_DOUBLE_EQ(si("0.94e-6 1/MPa", Dimension::per_pascal), 0.94e-12);
    EXPECT_DOUBLE_EQ(si("0.94 ppm/MPa", Dimension::per_pascal), 0.94e-12);
    EXPECT_DOUBLE_EQ(si("6.5e-5 1/bar", Dimension::per_pascal), 6.5e-10);
    EXPECT_DOUBLE_EQ(si("1e-10 1/MPa2", Dimension::per_pascal_squared), 1e-22);
    EXPECT_EQ(si("50 %", Dimension::fraction), 0.5);
    EXPECT_EQ(si("20 ppm", Dimension::fraction), 20e-6);
    EXPECT_EQ(si("0.5 1", Dimension::fraction), 0.5);
}

TEST(Quantities, SpaceAndSignAsPeopleWriteThem) {
    EXPECT_EQ(si("140bar", Dimension::pressure), 14e6);
    EXPECT_EQ(si("  140 \t bar  ", Dimension::pressure), 14e6);
    EXPECT_EQ(si("-0.5 bar", Dimension::pressure), -5e4);
    EXPECT_EQ(si("+0.5 bar", Dimension::pressure), 5e4);
    EXPECT_EQ(si("0 bar", Dimension::pressure), 0);
    EXPECT_EQ(si(".5 bar", Dimension::pressure), 5e4);
    EXPECT_EQ(si("1.4E2 bar", Dimension::pressure), 14e6);
}

TEST(Quantities, LettersThatKeyboardsHave) {
    EXPECT_EQ(si("23.5 \u00b0C", Dimension::temperature), 23.5);
    EXPECT_EQ(si("3 \u00b5m", Dimension::length), 3e-6);
    EXPECT_EQ(si("3 \u03bcm", Dimension::length), 3e-6);
    EXPECT_EQ(si("98.07 mm\u00b2", Dimension::area), 98.07 / 1e6);
    EXPECT_EQ(si("865 kg/m\u00b3", Dimension::density), 865);
}

TEST(Quantities, ABareNumberIsRefusedWithWhatWouldDo) {
    EXPECT_EQ(refusal("140", Dimension::pressure), "\"140\" has no unit; write for example \"140 bar\"");
    EXPECT_EQ(refusal(" 20 ", Dimension::temperature), "\" 20 \" has no unit; write for example \"20 degC\"");
    EXPECT_EQ(refusal("0.5", Dimension::fraction), "\"0.5\" has no unit; write for example \"0.5 %\"");
    EXPECT_EQ(refusal("0", Dimension::length), "\"0\" has no unit; write for example \"0 mm\"");
}

TEST(Quantities, AnotherDimensionIsNamed) {
    EXPECT_EQ(refusal("12 kg", Dimension::pressure),
              "\"12 kg\" is a mass where a pressure belongs; use Pa, hPa, kPa, MPa, bar, mbar or psi");
    EXPECT_EQ(refusal("3 mm", Dimension::area), "\"3 mm\" is a length where an area belongs; use m2, cm2, mm2 or in2");
    EXPECT_EQ(refusal("0.5 degC", Dimension::temperature_interval),
              "\"0.5 degC\" is a temperature where a temperature interval belongs; use K or mK");
}

TEST(Quantities, AnUnknownUnitIsNamed) {
    EXPECT_EQ(refusal("3 furlong", Dimension::length),
              "\"3 furlong\": \"furlong\" is not a unit of a length; use m, cm, mm, um, in or ft");
    EXPECT_EQ(refusal("140 Bar", Dimension::pressure), "\"140 Bar\": \"Bar\" is not a unit; use \"bar\"");
    // A factor of 10^9 must not hang on a capital letter: there is no millipascal here.
    EXPECT_EQ(refusal("140 mPa", Dimension::pressure), "\"140 mPa\": \"mPa\" is not a unit; use \"MPa\"");
    EXPECT_EQ(refusal("1,5 bar", Dimension::pressure),
              "\"1,5 bar\": a comma does not divide a number; write the decimal point");
}

TEST(Quantities, WhatIsNoNumberIsRefused) {
    EXPECT_EQ(refusal("", Dimension::pressure),
              "\"\" is not a pressure; write a number and a unit, for example \"1.5 bar\"");
    EXPECT_EQ(refusal("bar", Dimension::pressure),
              "\"bar\" is not a pressure; write a number and a unit, for example \"1.5 bar\"");
    for (const char* text : {"inf bar", "-inf bar", "nan bar", "infinity bar", "NAN bar", "0x10 bar", "1e999 bar",
                             "1e308 GPa", "+-5 bar", "--5 bar", "5 bar 6", "5 bar rubbish", "5 5 bar", "1e bar",
                             "1.2.3 bar", "1_000 bar", "1 000 bar", "five bar", "\n5 bar"}) {
        EXPECT_FALSE(parse_quantity(text, Dimension::pressure).has_value()) << text;
    }
    // Without a space the number takes all the digits, and what is left is no unit.
    EXPECT_FALSE(parse_quantity("51/K", Dimension::per_kelvin).has_value());
    EXPECT_FALSE(parse_quantity(std::string_view("5\0bar", 5), Dimension::pressure).has_value());
}

TEST(Quantities, AnyBytesAreAnswered) {
    std::string bytes(3, '\0');
    for (int first = 0; first < 256; ++first) {
        for (int second = 0; second < 256; ++second) {
            bytes[0] = static_cast<char>(first);
            bytes[1] = static_cast<char>(second);
            bytes[2] = '5';
            const auto value = parse_quantity(bytes, Dimension::mass);
            EXPECT_FALSE(value.has_value());
            EXPECT_FALSE(value.error().message.empty());
        }
    }
}

TEST(Quantities, DoNotDependOnTheLocale) {
    struct Commas : std::numpunct<char> {
        char do_decimal_point() const override { return ','; }
        char do_thousands_sep() const override { return '.'; }
        std::string do_grouping() const override { return "\3"; }
    };
    const std::locale before = std::locale::global(std::locale(std::locale(), new Commas));
    EXPECT_EQ(si("1234.5 bar", Dimension::pressure), 1234.5e5);
    EXPECT_EQ(refusal("1234.5", Dimension::pressure), "\"1234.5\" has no unit; write for example \"1234.5 bar\"");
    std::locale::global(before);
}

TEST(Quantities, AnErrorThatNobodyLookedAtIsThrownWithItsMessage) {
    try {
        (void)parse_quantity("140", Dimension::pressure).value();
        FAIL() << "no exception";
    } catch (const std::invalid_argument& error) {
        EXPECT_STREQ(error.what(), "\"140\" has no unit; write for example \"140 bar\"");
    }
}

TEST(Quantities, WhatAGasIsDescribedBy) {
    EXPECT_DOUBLE_EQ(si("28.0134 g/mol", Dimension::molar_mass), 0.0280134);
    EXPECT_DOUBLE_EQ(si("28.0134 kg/kmol", Dimension::molar_mass), 0.0280134);
    EXPECT_DOUBLE_EQ(si("-5.9 cm3/mol", Dimension::molar_volume), -5.9e-6);
    EXPECT_DOUBLE_EQ(si("1426.3 cm6/mol2", Dimension::molar_volume_squared), 1.4263e-9);
    EXPECT_DOUBLE_EQ(si("0.2 cm3/mol/K", Dimension::molar_volume_per_k), 2e-7);
    EXPECT_EQ(refusal("28 kg", Dimension::molar_mass),
              "\"28 kg\" is a mass where a molar mass belongs; use g/mol or kg/mol");
}

} // namespace
} // namespace stillmark::drivers
