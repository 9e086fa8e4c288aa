#include "daemon/records/print/typeface.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <map>

namespace stillmark::records::print {

namespace {

constexpr std::array families = {"Noto Sans", "DejaVu Sans"};
// Noto Sans has no minus sign: the other one gives it, or the mathematical one, whose lines are higher.
constexpr const char* family_list = "Noto Sans,DejaVu Sans,Noto Sans Math";
// Of the height that a font asks for: Noto Sans leaves room for marks that stand one above the other.
constexpr double leading = 0.9;

std::string code_of(char32_t character) {
    return fmt::format("[U+{:04X}]", static_cast<std::uint32_t>(character));
}

void append(std::string& text, char32_t character) {
    std::array<char, 6> bytes{};
    text.append(bytes.data(), static_cast<std::size_t>(g_unichar_to_utf8(character, bytes.data())));
}

/// Embeddings, overrides and isolates turn letters that stand after them: a name could look like another one.
bool turns_the_direction(char32_t c) {
    return (c >= U'\u202A' && c <= U'\u202E') || (c >= U'\u2066' && c <= U'\u2069');
}

bool stands_as_code(char32_t c) {
    return g_unichar_iscntrl(c) != FALSE || turns_the_direction(c);
}

/// The characters that became no glyph.
std::set<char32_t> unknown_in(PangoLayout* layout) {
    std::set<char32_t> found;
    if (pango_layout_get_unknown_glyphs_count(layout) == 0) return found;
    const char* const text = pango_layout_get_text(layout);
    PangoLayoutIter* const at = pango_layout_get_iter(layout);
    do {
        const PangoLayoutRun* const run = pango_layout_iter_get_run_readonly(at);
        if (run == nullptr) continue;
        for (int i = 0; i < run->glyphs->num_glyphs; ++i)
            if ((run->glyphs->glyphs[i].glyph & PANGO_GLYPH_UNKNOWN_FLAG) != 0)
                found.insert(g_utf8_get_char(text + run->item->offset + run->glyphs->log_clusters[i]));
    } while (pango_layout_iter_next_run(at) != FALSE);
    pango_layout_iter_free(at);
    return found;
}

std::string with_codes(const std::string& text, const std::set<char32_t>& characters) {
    std::string changed;
    for (const char* at = text.c_str(); at < text.c_str() + text.size(); at = g_utf8_next_char(at)) {
        const char32_t c = g_utf8_get_char(at);
        if (characters.contains(c))
            changed += code_of(c);
        else
            append(changed, c);
    }
    return changed;
}

double points(int pango_units) {
    return static_cast<double>(pango_units) / PANGO_SCALE;
}

} // namespace

std::string printable(std::string_view text) {
    std::string shown;
    for (std::size_t at = 0; at < text.size();) {
        const gunichar c = g_utf8_get_char_validated(text.data() + at, static_cast<gssize>(text.size() - at));
        if (text[at] == '\0') { // which the validation takes for the end
            shown += code_of(0);
            ++at;
        } else if (c == static_cast<gunichar>(-1) || c == static_cast<gunichar>(-2)) {
            append(shown, U'\uFFFD');
            ++at;
        } else {
            const auto character = static_cast<char32_t>(c);
            const bool ends_a_line = character == U'\u2028' || character == U'\u2029' || character == U'\u0085';
            if (character == U'\n' || character == U'\r' || character == U'\t' || ends_a_line)
                shown += ' ';
            else if (stands_as_code(character))
                shown += code_of(character);
            else
                append(shown, character);
            at += static_cast<std::size_t>(g_unichar_to_utf8(c, nullptr));
        }
    }
    return shown;
}

namespace {

/// Whether some installed font has a character; each is looked up once in a thread, which is what fonts are kept for.
bool is_in_a_font(char32_t c) {
    constexpr char32_t of_every_font = 0x7F; // ASCII
    if (c < of_every_font) return true;
    thread_local std::map<char32_t, bool> known;
    const auto before = known.find(c);
    if (before != known.end()) return before->second;
    auto type = Typeface::found(Language::english);
    if (!type) return true;
    std::string text;
    append(text, c);
    type->line(text, {});
    return known[c] = type->without_font().empty();
}

} // namespace

std::set<char32_t> unprintable_in(std::string_view text) {
    std::set<char32_t> found;
    for (std::size_t at = 0; at < text.size();) {
        const gunichar c = g_utf8_get_char_validated(text.data() + at, static_cast<gssize>(text.size() - at));
        const bool is_none = c == static_cast<gunichar>(-1) || c == static_cast<gunichar>(-2);
        const bool is_nul = text[at] == '\0'; // which the validation takes for the end
        const char32_t character = is_nul ? 0 : is_none ? U'\uFFFD' : static_cast<char32_t>(c);
        const bool is_space = character == U'\n' || character == U'\r' || character == U'\t' ||
                              character == U'\u2028' || character == U'\u2029' || character == U'\u0085';
        if (!is_space && (stands_as_code(character) || character == U'\uFFFD' || !is_in_a_font(character)))
            found.insert(character);
        at += is_nul || is_none ? 1 : static_cast<std::size_t>(g_unichar_to_utf8(c, nullptr));
    }
    return found;
}

std::string with_codes_for_unprintable(std::string_view text) {
    const std::string shown = printable(text);
    return with_codes(shown, unprintable_in(shown));
}

void Line::draw(cairo_t* page, double x, double y) const {
    cairo_set_source_rgb(page, grey, grey, grey);
    cairo_move_to(page, x, y + baseline);
    pango_cairo_show_layout_line(page, line);
}

Typeface::Typeface(Language language)
    : context_(pango_font_map_create_context(pango_cairo_font_map_get_default()), g_object_unref) {
    constexpr double points_of_an_inch = 72;
    pango_cairo_context_set_resolution(context_.get(), points_of_an_inch);
    pango_context_set_language(context_.get(), pango_language_from_string(code(language)));
    // Paper has no pixels to fit letters to.
    pango_context_set_round_glyph_positions(context_.get(), FALSE);
    cairo_font_options_t* const options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(context_.get(), options);
    cairo_font_options_destroy(options);
}

RecordResult<Typeface> Typeface::found(Language language) {
    PangoFontMap* const map = pango_cairo_font_map_get_default();
    for (const char* family : families)
        if (pango_font_map_get_family(map, family) != nullptr) return Typeface(language);
    return RecordError{
        "fonts: fontconfig finds neither Noto Sans nor DejaVu Sans, which certificates are set in; install "
        "Debian's fonts-noto-core"};
}

std::shared_ptr<PangoLayout> Typeface::set(const std::string& text, const Style& style, double width) const {
    std::shared_ptr<PangoLayout> layout(pango_layout_new(context_.get()), g_object_unref);
    PangoFontDescription* const font = pango_font_description_new();
    pango_font_description_set_family_static(font, family_list);
    pango_font_description_set_size(font, static_cast<int>(std::lround(style.size * PANGO_SCALE)));
    pango_font_description_set_weight(font, style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout.get(), font);
    pango_font_description_free(font);
    PangoAttrList* const attributes = pango_attr_list_new();
    pango_attr_list_insert(attributes, pango_attr_insert_hyphens_new(FALSE)); // a name is broken, never added to
    pango_attr_list_insert(attributes, pango_attr_font_features_new("tnum=1"));
    pango_layout_set_attributes(layout.get(), attributes);
    pango_attr_list_unref(attributes);
    pango_layout_set_single_paragraph_mode(layout.get(), TRUE);
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
    if (width > 0) pango_layout_set_width(layout.get(), static_cast<int>(width * PANGO_SCALE));
    pango_layout_set_text(layout.get(), text.c_str(), static_cast<int>(text.size()));
    return layout;
}

std::vector<Line> Typeface::lines(std::string_view text, const Style& style, double width) {
    std::string shown = printable(text);
    auto layout = set(shown, style, width);
    constexpr int rounds = 3; // what a cluster hides shows only after its first character has gone
    for (int round = 0; round < rounds; ++round) {
        const auto unknown = unknown_in(layout.get());
        if (unknown.empty()) break;
        without_font_.insert(unknown.begin(), unknown.end());
        shown = with_codes(shown, unknown);
        layout = set(shown, style, width);
    }
    // Lines with letters of other fonts, which are higher, get all that they ask for.
    const double usual = 1.4 * style.size;
    std::vector<Line> all;
    PangoLayoutIter* const at = pango_layout_get_iter(layout.get());
    do {
        PangoRectangle logical;
        pango_layout_iter_get_line_extents(at, nullptr, &logical);
        Line line;
        line.paragraph = layout;
        line.line = pango_layout_iter_get_line_readonly(at);
        line.width = points(logical.width);
        const double high = points(logical.height), saved = high <= usual ? high * (1 - leading) : 0;
        line.height = high - saved;
        line.baseline = points(pango_layout_iter_get_baseline(at) - logical.y) - saved / 2;
        line.grey = style.grey;
        all.push_back(line);
    } while (pango_layout_iter_next_line(at) != FALSE);
    pango_layout_iter_free(at);
    return all;
}

Line Typeface::line(std::string_view text, const Style& style) {
    return lines(text, style, 0).front();
}

} // namespace stillmark::records::print
