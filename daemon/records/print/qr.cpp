#include "daemon/records/print/qr.hpp"

#include "daemon/records/print/typeface.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstring>
#include <qrencode.h>

namespace stillmark::records::print {

namespace {

constexpr double module_mm = 0.5;
constexpr int quiet = 4; // modules, ISO/IEC 18004

bool is_unreserved(char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' || c == '.' ||
           c == '_' || c == '~';
}

} // namespace

std::string code_statement(const Certificate& certificate) {
    std::string number;
    for (const char c : certificate.number) {
        if (is_unreserved(c))
            number += c;
        else
            number += fmt::format("%{:02X}", static_cast<unsigned char>(c));
    }
    return "stillmark 1 " + number + " " + certificate.proof.xml_sha256;
}

std::string qr_text(const Certificate& certificate) {
    return code_statement(certificate) + " " + certificate.proof.code_signature;
}

RecordResult<Strip> qr_code(const std::string& text) {
    const std::shared_ptr<QRcode> code(QRcode_encodeData(static_cast<int>(text.size()),
                                                         reinterpret_cast<const unsigned char*>(text.data()), 0,
                                                         QR_ECLEVEL_M),
                                       QRcode_free);
    if (!code)
        return RecordError{fmt::format("the code of the certificate: its text has {} bytes ({}), a code with error "
                                       "correction M holds 2331; use a shorter certificate number",
                                       text.size(), std::strerror(errno))};
    const double module = module_mm * points_of_a_mm;
    Strip strip;
    strip.height = module * (code->width + 2 * quiet);
    strip.draw = [code, module](cairo_t* page, double x, double y) {
        cairo_set_source_rgb(page, 0, 0, 0);
        const int width = code->width;
        for (int row = 0; row < width; ++row) {
            // Neighbours in one rectangle, so that no hair of white lies between them.
            for (int column = 0; column < width;) {
                int end = column;
                while (end < width && (code->data[row * width + end] & 1U) != 0)
                    ++end;
                if (end > column)
                    cairo_rectangle(page, x + module * (quiet + column), y + module * (quiet + row),
                                    module * (end - column), module);
                column = end + 1;
            }
        }
        cairo_fill(page);
    };
    return strip;
}

} // namespace stillmark::records::print
