#include "daemon/records/print/logo.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>

namespace stillmark::records::print {

namespace {

constexpr std::uintmax_t most_bytes = 4U << 20U;
constexpr std::uint32_t most_pixels = 4000; // a side

RecordError wrong(const std::string& path, const std::string& found) {
    return {fmt::format("logo {}: {}; give a PNG of at most {} MiB and {} pixels a side, or leave the logo out", path,
                        found, most_bytes >> 20U, most_pixels)};
}

std::uint32_t number_at(const std::string& bytes, std::size_t at) {
    std::uint32_t number = 0;
    for (std::size_t i = at; i < at + 4; ++i)
        number = number << 8U | static_cast<unsigned char>(bytes[i]);
    return number;
}

struct Rest {
    std::string_view bytes;
};
cairo_status_t read_some(void* closure, unsigned char* data, unsigned int length) {
    auto& rest = *static_cast<Rest*>(closure);
    if (rest.bytes.size() < length) return CAIRO_STATUS_READ_ERROR;
    std::memcpy(data, rest.bytes.data(), length);
    rest.bytes.remove_prefix(length);
    return CAIRO_STATUS_SUCCESS;
}

} // namespace

RecordResult<Strip> logo(const std::string& path, double width, double height) {
    std::error_code problem;
    if (!std::filesystem::is_regular_file(path, problem)) return wrong(path, "there is no such file");
    const auto size = std::filesystem::file_size(path, problem);
    if (problem) return wrong(path, "cannot be read: " + problem.message());
    if (size > most_bytes) return wrong(path, fmt::format("has {} bytes", size));
    std::ifstream file(path, std::ios::binary);
    if (!file) return wrong(path, "cannot be read");
    const std::string bytes(std::istreambuf_iterator<char>(file), {});
    // ISO/IEC 15948, 5.2 and 11.2.2: the signature, then the header with the sides. They are looked at first, because a
    // small file can be a picture that no memory holds.
    constexpr std::string_view signature("\x89PNG\r\n\x1A\n", 8);
    constexpr std::size_t sides = 16, head = 24;
    if (bytes.size() < head || !bytes.starts_with(signature)) return wrong(path, "is no PNG image");
    const std::uint32_t wide = number_at(bytes, sides), high = number_at(bytes, sides + 4);
    if (wide == 0 || high == 0 || wide > most_pixels || high > most_pixels)
        return wrong(path, fmt::format("has {} x {} pixels", wide, high));
    Rest rest{bytes};
    const std::shared_ptr<cairo_surface_t> image(cairo_image_surface_create_from_png_stream(read_some, &rest),
                                                 cairo_surface_destroy);
    const auto status = cairo_surface_status(image.get());
    if (status != CAIRO_STATUS_SUCCESS)
        return wrong(path, fmt::format("is no PNG image that can be read ({})", cairo_status_to_string(status)));
    const double scale = std::min(width / wide, height / high);
    Strip strip;
    strip.height = scale * high;
    strip.draw = [image, scale, left = width - scale * wide](cairo_t* page, double x, double y) {
        cairo_save(page);
        cairo_translate(page, x + left, y);
        cairo_scale(page, scale, scale);
        cairo_set_source_surface(page, image.get(), 0, 0);
        cairo_paint(page);
        cairo_restore(page);
    };
    return strip;
}

} // namespace stillmark::records::print
