#pragma once

#include <array>
#include <string>

namespace stillmark::records::print {

/// X, Y, Z of red, green and blue of sRGB, as seen from the white of ICC profiles (D50).
std::array<std::array<double, 3>, 3> srgb_colorants();

/// The colour space of IEC 61966-2-1 as an ICC profile for displays (ICC.1:2004-10, version 4.2), made from its
/// numbers: the output intent of a PDF/A has to hold one, and so no file has to be there when a certificate is printed.
std::string srgb_profile();

} // namespace stillmark::records::print
