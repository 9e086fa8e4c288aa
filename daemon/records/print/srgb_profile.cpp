#include "daemon/records/print/srgb_profile.hpp"

#include <cmath>
#include <cstdint>
#include <string_view>
#include <utility>
#include <vector>

namespace stillmark::records::print {

namespace {

using Vector = std::array<double, 3>;
using Matrix = std::array<Vector, 3>; // rows

Vector operator*(const Matrix& m, const Vector& v) {
    Vector result{};
    for (std::size_t i = 0; i < 3; ++i)
        result[i] = m[i][0] * v[0] + m[i][1] * v[1] + m[i][2] * v[2];
    return result;
}
Matrix operator*(const Matrix& a, const Matrix& b) {
    Matrix result{};
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j)
            result[i][j] = a[i][0] * b[0][j] + a[i][1] * b[1][j] + a[i][2] * b[2][j];
    return result;
}
Matrix diagonal(const Vector& v) {
    return {{{v[0], 0, 0}, {0, v[1], 0}, {0, 0, v[2]}}};
}
Matrix inverse(const Matrix& m) {
    Matrix cofactors{};
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j) {
            const std::size_t a = (i + 1) % 3, b = (i + 2) % 3, c = (j + 1) % 3, d = (j + 2) % 3;
            cofactors[j][i] = m[a][c] * m[b][d] - m[a][d] * m[b][c];
        }
    const double determinant = m[0][0] * cofactors[0][0] + m[0][1] * cofactors[1][0] + m[0][2] * cofactors[2][0];
    for (Vector& row : cofactors)
        for (double& value : row)
            value /= determinant;
    return cofactors;
}

/// X, Y, Z of a chromaticity with Y = 1.
Vector from_chromaticity(double x, double y) {
    return {x / y, 1, (1 - x - y) / y};
}

/// IEC 61966-2-1: chromaticities of the primaries (ITU-R BT.709) and of the white (D65).
const Vector red = from_chromaticity(0.64, 0.33), green = from_chromaticity(0.30, 0.60),
             blue = from_chromaticity(0.15, 0.06), white = from_chromaticity(0.3127, 0.3290);
/// The illuminant of the profile connection space, ICC.1:2004-10.
const Vector d50 = {0.9642, 1, 0.8249};

/// The linearized Bradford transformation, as ICC.1:2004-10 has it: from what is seen under D65 to what under D50.
Matrix adaptation() {
    const Matrix cones = {{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}};
    const Vector from = cones * white, to = cones * d50;
    return inverse(cones) * diagonal({to[0] / from[0], to[1] / from[1], to[2] / from[2]}) * cones;
}

void put(std::string& bytes, std::uint32_t value, int count = 4) {
    constexpr unsigned of_a_byte = 8;
    for (int i = count - 1; i >= 0; --i)
        bytes += static_cast<char>(value >> (of_a_byte * static_cast<unsigned>(i)) & 0xFFU);
}
void put_fixed(std::string& bytes, double value) { // s15Fixed16Number
    put(bytes, static_cast<std::uint32_t>(static_cast<std::int32_t>(std::lround(value * 65536))));
}

std::string text_of(std::string_view text) { // multiLocalizedUnicodeType, one record
    std::string bytes("mluc\0\0\0\0", 8);
    put(bytes, 1);
    constexpr std::uint32_t record = 12, starts = 28;
    put(bytes, record);
    bytes += "enUS";
    put(bytes, static_cast<std::uint32_t>(2 * text.size()));
    put(bytes, starts);
    for (const char c : text)
        put(bytes, static_cast<unsigned char>(c), 2);
    return bytes;
}
std::string xyz_of(const Vector& v) {
    std::string bytes("XYZ \0\0\0\0", 8);
    for (const double value : v)
        put_fixed(bytes, value);
    return bytes;
}
/// IEC 61966-2-1: linear below 0.04045, a power of 2.4 above (parametricCurveType, function 3).
std::string curve() {
    std::string bytes("para\0\0\0\0", 8);
    put(bytes, 3, 2);
    put(bytes, 0, 2);
    for (const double value : {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045})
        put_fixed(bytes, value);
    return bytes;
}
std::string matrix_of(const Matrix& m) {
    std::string bytes("sf32\0\0\0\0", 8);
    for (const Vector& row : m)
        for (const double value : row)
            put_fixed(bytes, value);
    return bytes;
}

} // namespace

std::array<std::array<double, 3>, 3> srgb_colorants() {
    const Matrix columns = {{{red[0], green[0], blue[0]}, {red[1], green[1], blue[1]}, {red[2], green[2], blue[2]}}};
    const Vector share = inverse(columns) * white; // so that the three together are white
    const Matrix to_d50 = adaptation();
    const auto seen = [&](const Vector& colour, double part) {
        return to_d50 * Vector{colour[0] * part, colour[1] * part, colour[2] * part};
    };
    return {seen(red, share[0]), seen(green, share[1]), seen(blue, share[2])};
}

std::string srgb_profile() {
    const auto colorants = srgb_colorants();
    const std::vector<std::pair<std::string_view, std::string>> tags = {
        {"desc", text_of("sRGB IEC 61966-2-1")},
        {"cprt", text_of("No copyright, use freely")},
        {"wtpt", xyz_of(d50)},
        {"chad", matrix_of(adaptation())},
        {"rXYZ", xyz_of(colorants[0])},
        {"gXYZ", xyz_of(colorants[1])},
        {"bXYZ", xyz_of(colorants[2])},
        {"rTRC", curve()},
        {"gTRC", curve()},
        {"bTRC", curve()},
    };
    constexpr std::uint32_t header = 128, entry = 12;
    std::string table, data;
    put(table, static_cast<std::uint32_t>(tags.size()));
    const auto begin = static_cast<std::uint32_t>(header + 4 + entry * tags.size());
    for (const auto& [signature, bytes] : tags) {
        table += signature;
        put(table, begin + static_cast<std::uint32_t>(data.size()));
        put(table, static_cast<std::uint32_t>(bytes.size()));
        data += bytes;
        data.resize((data.size() + 3) / 4 * 4);
    }
    std::string profile;
    put(profile, begin + static_cast<std::uint32_t>(data.size()));
    put(profile, 0);          // no preferred module
    put(profile, 0x04200000); // version 4.2
    profile += "mntrRGB XYZ ";
    for (const std::uint32_t part : {2026U, 1U, 1U, 0U, 0U, 0U}) // of this profile, fixed
        put(profile, part, 2);
    profile += "acsp";
    profile.append(24, '\0'); // platform, flags, maker, model, attributes
    put(profile, 0);          // perceptual
    for (const double value : d50)
        put_fixed(profile, value);
    profile.resize(header);
    return profile + table + data;
}

} // namespace stillmark::records::print
