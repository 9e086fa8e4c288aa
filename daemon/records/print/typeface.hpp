#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/record_error.hpp"

#include <memory>
#include <pango/pangocairo.h>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::records::print {

// Lengths on paper are in points of 1/72 inch, as PDF counts.

inline constexpr double points_of_a_mm = 72 / 25.4;

struct Style {
    double size = 8;
    bool bold = false;
    double grey = 0; ///< 0 black, 1 white
};

/// One line as it is set, and how to draw it. It keeps the paragraph alive that it is a part of.
struct Line {
    std::shared_ptr<PangoLayout> paragraph;
    PangoLayoutLine* line = nullptr;
    double width = 0;
    double height = 0;
    double baseline = 0; ///< below the top of the line
    double grey = 0;

    void draw(cairo_t* page, double x, double y) const;
};

/// Text that a page can show, whatever people wrote: UTF-8 (what is none becomes U+FFFD), line ends and tabs as blanks;
/// other control characters and those that turn the direction of what follows stand as their code, "[U+202E]".
std::string printable(std::string_view text);

/// The characters of a text that a page shows as their code at best: control characters but tabs and line ends, those
/// that turn the direction, U+FFFD, and those that no installed font has. Where no font of a certificate is installed
/// at all, only the others.
std::set<char32_t> unprintable_in(std::string_view text);
/// The text with the codes of all those, "[U+202E]".
std::string with_codes_for_unprintable(std::string_view text);

/// The fonts of a document and what was set with them.
class Typeface {
  public:
    /// An error names the package where no font of the family is found.
    static RecordResult<Typeface> found(Language language);

    /// The lines of a text that may be `width` wide. A character that no installed font has is set as its code in
    /// Unicode, "[U+4E2D]", and remembered: a certificate must not wait for a font, and must not show boxes either.
    /// There is always at least one line.
    std::vector<Line> lines(std::string_view text, const Style& style, double width);
    /// The text in one line, however wide.
    Line line(std::string_view text, const Style& style);

    /// What was set as its code.
    const std::set<char32_t>& without_font() const { return without_font_; }

  private:
    explicit Typeface(Language language);
    std::shared_ptr<PangoLayout> set(const std::string& text, const Style& style, double width) const;

    std::shared_ptr<PangoContext> context_;
    std::set<char32_t> without_font_;
};

} // namespace stillmark::records::print
