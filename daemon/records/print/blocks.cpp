#include "daemon/records/print/blocks.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

namespace stillmark::records::print {

namespace {

Strip strip_of(const Line& line, double x = 0) {
    Strip strip;
    strip.height = line.height;
    strip.draw = [line, x](cairo_t* page, double left, double y) { line.draw(page, left + x, y); };
    return strip;
}

} // namespace

Flow paragraph(Typeface& type, std::string_view text, const Style& style, double width, double before) {
    Flow flow;
    const auto lines = type.lines(text, style, width);
    for (std::size_t i = 0; i < lines.size(); ++i) {
        flow.push_back(strip_of(lines[i]));
        flow.back().with_next = i + 1 < lines.size() && (i == 0 || i + 2 == lines.size());
    }
    flow.front().before = before;
    return flow;
}

Flow heading(Typeface& type, std::string_view text, double width, bool ruled) {
    constexpr double size = 9.5, before = 7;
    Flow flow = paragraph(type, text, {size, true, 0}, width, before);
    if (ruled) flow.push_back(rule(width, 0.5, 2));
    return kept(std::move(flow));
}

Flow definitions(Typeface& type, const Pairs& pairs, double width, double label_width, double size) {
    constexpr double gap = 6;
    Flow flow;
    for (const auto& [label, said] : pairs) {
        if (said.empty()) continue;
        const auto labels = type.lines(label, {size, false, label_grey}, label_width - gap);
        const auto words = type.lines(said, {size, false, 0}, width - label_width);
        const std::size_t count = std::max(labels.size(), words.size());
        for (std::size_t i = 0; i < count; ++i) {
            Strip strip;
            const bool has_label = i < labels.size(), has_words = i < words.size();
            const Line one = has_label ? labels[i] : Line{}, other = has_words ? words[i] : Line{};
            strip.height = std::max(one.height, other.height);
            strip.draw = [one, other, label_width](cairo_t* page, double x, double y) {
                const double baseline = std::max(one.baseline, other.baseline);
                if (one.line != nullptr) one.draw(page, x, y + baseline - one.baseline);
                if (other.line != nullptr) other.draw(page, x + label_width, y + baseline - other.baseline);
            };
            strip.with_next = i + 1 < count && (i == 0 || i + 2 == count);
            flow.push_back(std::move(strip));
        }
    }
    return flow;
}

Flow beside(const Flow& left, const Flow& right, double at) {
    Flow flow;
    for (std::size_t i = 0; i < std::max(left.size(), right.size()); ++i) {
        const Strip one = i < left.size() ? left[i] : Strip{}, other = i < right.size() ? right[i] : Strip{};
        Strip strip;
        strip.before = std::max(one.before, other.before);
        strip.height = std::max(one.height, other.height);
        strip.with_next = (i < left.size() && one.with_next) || (i < right.size() && other.with_next);
        strip.draw = [one, other, at](cairo_t* page, double x, double y) {
            if (one.draw) one.draw(page, x, y);
            if (other.draw) other.draw(page, x + at, y);
        };
        flow.push_back(std::move(strip));
    }
    return flow;
}

Strip rule(double width, double before, double after) {
    constexpr double thickness = 0.4;
    Strip strip;
    strip.height = before + thickness + after;
    strip.draw = [width, before](cairo_t* page, double x, double y) {
        cairo_set_source_rgb(page, 0, 0, 0);
        cairo_set_line_width(page, thickness);
        cairo_move_to(page, x, y + before);
        cairo_line_to(page, x + width, y + before);
        cairo_stroke(page);
    };
    return strip;
}

Strip together(const Flow& flow) {
    Strip all;
    for (const Strip& strip : flow)
        all.height += strip.before + strip.height;
    all.draw = [flow](cairo_t* page, double x, double y) {
        for (const Strip& strip : flow) {
            y += strip.before;
            strip.draw(page, x, y);
            y += strip.height;
        }
    };
    return all;
}

void beside_fixed(Flow& flow, Flow left, const Strip& right, double at) {
    constexpr double most = 300;
    Strip one = together(left);
    if (one.height > most) { // it has to be broken
        Strip alone = right;
        alone.draw = [draw = right.draw, at](cairo_t* page, double x, double y) { draw(page, x + at, y); };
        flow.push_back(std::move(alone));
        append(flow, std::move(left));
        return;
    }
    const double height = std::max(one.height, right.height);
    one.draw = [words = one.draw, draw = right.draw, at](cairo_t* page, double x, double y) {
        words(page, x, y);
        draw(page, x + at, y);
    };
    one.height = height;
    flow.push_back(std::move(one));
}

void append(Flow& flow, Flow more) {
    flow.insert(flow.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

Flow kept(Flow flow) {
    for (Strip& strip : flow)
        strip.with_next = true;
    return flow;
}

} // namespace stillmark::records::print
