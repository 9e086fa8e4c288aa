#include "daemon/records/print/deviation_plot.hpp"

#include "daemon/records/print/blocks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace stillmark::records::print {

namespace {

constexpr Style small{7.2, false, 0};
constexpr double area_height = 84;
constexpr double marker = 2.3; // half of its side
constexpr double hair = 0.4;

bool is_shown(const Row& row) {
    return row.deviation.there() && row.reference.there() && std::isfinite(row.deviation.value) &&
           std::isfinite(row.reference.value);
}

/// One point in one direction: where its bar of uncertainty and its limit stand.
struct Bar {
    double pressure, deviation;
    double expanded;    ///< 0: none is known
    double permissible; ///< 0: none is stated
};

std::vector<Bar> bars_of(const Results& results) {
    const auto size = [](const Figure& figure) {
        return figure.there() && std::isfinite(figure.value) ? std::abs(figure.value) : 0;
    };
    std::vector<Bar> list;
    for (const Summary& at : results.points)
        for (const auto* one : {&at.rising, &at.falling})
            if (*one && at.reference.there() && std::isfinite(at.reference.value) &&
                std::isfinite((*one)->deviation.value))
                list.push_back(
                    {at.reference.value, (*one)->deviation.value, size((*one)->expanded), size((*one)->permissible)});
    return list;
}

/// The place on paper of values, within a rectangle.
struct Area {
    double left, top, width, height;
    Scale scale;

    double x(double pressure) const {
        return left + width * (pressure - scale.pressure.first) / (scale.pressure.last() - scale.pressure.first);
    }
    double y(double deviation) const {
        return top + height * (scale.deviation.last() - deviation) / (scale.deviation.last() - scale.deviation.first);
    }
};

void stroke(cairo_t* page, double x1, double y1, double x2, double y2) {
    cairo_move_to(page, x1, y1);
    cairo_line_to(page, x2, y2);
    cairo_stroke(page);
}

/// Filled and upright: rising; open and standing on its tip: falling.
void triangle(cairo_t* page, double x, double y, bool rising) {
    const double up = rising ? -1 : 1;
    cairo_move_to(page, x, y + up * marker);
    cairo_line_to(page, x + marker, y - up * marker * 0.8);
    cairo_line_to(page, x - marker, y - up * marker * 0.8);
    cairo_close_path(page);
    const double inside = rising ? 0 : 1;
    cairo_set_source_rgb(page, inside, inside, inside);
    cairo_fill_preserve(page);
    cairo_set_source_rgb(page, 0, 0, 0);
    cairo_set_line_width(page, hair + 0.2);
    cairo_stroke(page);
}

void dashed(cairo_t* page, bool on) {
    constexpr std::array dashes = {4.0, 2.5};
    cairo_set_dash(page, dashes.data(), on ? static_cast<int>(dashes.size()) : 0, 0);
}

struct Label {
    Line line;
    double x, y; ///< of its top left corner, within the strip
};

/// Which pressures a range of the balance served.
struct Reach {
    std::string name;
    double from, to;
};

std::vector<Reach> reaches_of(const Results& results) {
    std::vector<Reach> all;
    for (const Table& table : results.tables) {
        if (table.range.empty()) continue;
        for (const Row& row : table.rows) {
            if (!is_shown(row)) continue;
            const auto known = std::ranges::find(all, table.range, &Reach::name);
            if (known == all.end()) {
                all.push_back({table.range, row.reference.value, row.reference.value});
            } else {
                known->from = std::min(known->from, row.reference.value);
                known->to = std::max(known->to, row.reference.value);
            }
        }
    }
    std::ranges::sort(all, {}, &Reach::from);
    return all;
}

struct ReachBar {
    double from, to, y;
};

/// Names over bars, each so high that none meets another; returns the height that they take.
double place_reaches(Typeface& type, const std::vector<Reach>& reaches, const Area& area, const Words& words,
                     double top, std::vector<Label>& labels, std::vector<ReachBar>& bars) {
    double height = 0, slot = 0, free_from = area.left - 1;
    for (const Reach& reach : reaches) {
        const auto lines = type.lines(range_words(reach.name, words), small, area.width);
        double widest = 0, high = 0;
        for (const Line& line : lines) {
            widest = std::max(widest, line.width);
            high += line.height;
        }
        const double x = std::max(area.left, std::min(area.x(reach.from), area.left + area.width - widest));
        if (x < free_from) slot = height;
        constexpr double bar_height = 5, apart = 8;
        double y = top + slot;
        for (const Line& line : lines) {
            labels.push_back({line, x, y});
            y += line.height;
        }
        bars.push_back({area.x(reach.from), area.x(reach.to), y + 1.5});
        height = std::max(height, slot + high + bar_height);
        free_from = std::max({free_from, x + widest + apart, area.x(reach.to) + apart});
    }
    return height;
}

void draw_limits(cairo_t* page, const Results& results, const Area& area) {
    std::map<double, double> limits;
    for (const Bar& bar : bars_of(results))
        if (bar.permissible > 0) limits[bar.pressure] = bar.permissible;
    if (limits.empty()) return;
    cairo_set_source_rgb(page, 0, 0, 0);
    cairo_set_line_width(page, hair + 0.3);
    dashed(page, true);
    for (const double side : {1.0, -1.0}) {
        cairo_move_to(page, area.left, area.y(side * limits.begin()->second));
        for (const auto& [pressure, limit] : limits)
            cairo_line_to(page, area.x(pressure), area.y(side * limit));
        cairo_line_to(page, area.left + area.width, area.y(side * limits.rbegin()->second));
        cairo_stroke(page);
    }
    dashed(page, false);
}

void draw_readings(cairo_t* page, const Results& results, const Area& area) {
    const auto each = [&](const auto& draw) {
        for (const Table& table : results.tables)
            for (const Row& row : table.rows)
                if (is_shown(row)) draw(row, table.direction == bench::Direction::rising);
    };
    cairo_set_source_rgb(page, 0, 0, 0);
    cairo_set_line_width(page, hair);
    for (const Bar& bar : bars_of(results)) {
        if (!(bar.expanded > 0)) continue;
        const double x = area.x(bar.pressure);
        const double high = area.y(bar.deviation + bar.expanded), low = area.y(bar.deviation - bar.expanded);
        constexpr double cap = 1.8;
        stroke(page, x, high, x, low);
        stroke(page, x - cap, high, x + cap, high);
        stroke(page, x - cap, low, x + cap, low);
    }
    each([&](const Row& row, bool rising) {
        triangle(page, area.x(row.reference.value), area.y(row.deviation.value), rising);
    });
}

void draw_frame(cairo_t* page, const Area& area) {
    cairo_set_line_width(page, hair);
    cairo_set_source_rgb(page, 0, 0, 0);
    stroke(page, area.left, area.top, area.left, area.top + area.height);
    stroke(page, area.left, area.top + area.height, area.left + area.width, area.top + area.height);
    constexpr double tick = 2.5;
    for (int i = 0; i <= area.scale.deviation.count; ++i) {
        const double y = area.y(area.scale.deviation.first + i * area.scale.deviation.step);
        stroke(page, area.left - tick, y, area.left, y);
    }
    for (int i = 0; i <= area.scale.pressure.count; ++i) {
        const double x = area.x(area.scale.pressure.first + i * area.scale.pressure.step);
        stroke(page, x, area.top + area.height, x, area.top + area.height + tick);
    }
    constexpr double pale = 0.55;
    cairo_set_source_rgb(page, pale, pale, pale);
    stroke(page, area.left, area.y(0), area.left + area.width, area.y(0));
}

std::string tick_text(const Axis& of, int i, const Words& words) {
    double value = of.first + i * of.step;
    if (std::abs(value) < of.step / 2) value = 0; // never -0
    return words.number(fmt::format("{:.{}f}", value, of.decimals));
}

/// A sign and what it means, in one line below the plot.
struct Key {
    Line words;
    double x = 0;
    std::function<void(cairo_t*, double x, double y)> sign;
};

std::vector<Key> keys_of(Typeface& type, const Scale& scale, const Words& words) {
    std::vector<Key> keys;
    keys.push_back(
        {type.line(words("rising"), small), 0, [](cairo_t* page, double x, double y) { triangle(page, x, y, true); }});
    keys.push_back({type.line(words("falling"), small), 0,
                    [](cairo_t* page, double x, double y) { triangle(page, x, y, false); }});
    keys.push_back({type.line(words("plot bar"), small), 0, [](cairo_t* page, double x, double y) {
                        cairo_set_line_width(page, hair);
                        stroke(page, x, y - 4, x, y + 4);
                        stroke(page, x - 1.8, y - 4, x + 1.8, y - 4);
                        stroke(page, x - 1.8, y + 4, x + 1.8, y + 4);
                    }});
    if (scale.permissible)
        keys.push_back({type.line(words("plot permissible"), small), 0, [](cairo_t* page, double x, double y) {
                            cairo_set_line_width(page, hair + 0.3);
                            dashed(page, true);
                            stroke(page, x - 7, y, x + 5, y);
                            dashed(page, false);
                        }});
    constexpr double sign_width = 9, apart = 16;
    double x = 0;
    for (Key& key : keys) {
        key.x = x + sign_width;
        x = key.x + key.words.width + apart;
    }
    return keys;
}

} // namespace

Axis axis(double least, double greatest, int most) {
    if (!std::isfinite(least) || !std::isfinite(greatest)) return {};
    if (!(greatest > least)) {
        const double about = std::max(std::abs(least), 1.0) / 2;
        return axis(least - about, least + about, most);
    }
    const double rough = (greatest - least) / most;
    int power = static_cast<int>(std::floor(std::log10(rough)));
    constexpr std::array steps = {1.0, 2.0, 5.0};
    constexpr int tries = 9; // three powers of ten
    constexpr double slack = 1e-9;
    for (int i = 0; i < tries; ++i) {
        if (i > 0 && i % 3 == 0) ++power;
        const double step = steps[static_cast<std::size_t>(i % 3)] * std::pow(10, power);
        const double first = std::floor(least / step + slack), last = std::ceil(greatest / step - slack);
        if (last - first <= most) return {first * step, step, static_cast<int>(last - first), std::max(0, -power)};
    }
    return {least, greatest - least, 1, std::max(0, -power)};
}

std::optional<Scale> scale_for(const std::vector<Results>& results) {
    double low = 0, high = 0, limit = 0;
    std::optional<std::pair<double, double>> pressures;
    const auto hold = [&](double pressure, double least, double most) {
        pressures = pressures ? std::pair(std::min(pressures->first, pressure), std::max(pressures->second, pressure))
                              : std::pair(pressure, pressure);
        low = std::min(low, least);
        high = std::max(high, most);
    };
    for (const Results& one : results) {
        for (const Table& table : one.tables)
            for (const Row& row : table.rows)
                if (is_shown(row)) hold(row.reference.value, row.deviation.value, row.deviation.value);
        if (!pressures) continue;
        for (const Bar& bar : bars_of(one)) {
            hold(bar.pressure, bar.deviation - bar.expanded, bar.deviation + bar.expanded);
            limit = std::max(limit, bar.permissible);
        }
    }
    if (!pressures) return std::nullopt;
    constexpr double far_beyond = 8;
    Scale scale;
    scale.permissible = limit > 0 && limit <= far_beyond * std::max(high, -low);
    if (scale.permissible) {
        constexpr double off_the_frame = 1.02;
        low = std::min(low, -limit * off_the_frame);
        high = std::max(high, limit * off_the_frame);
    }
    constexpr int most_pressures = 10, most_deviations = 6;
    scale.pressure = axis(pressures->first, pressures->second, most_pressures);
    scale.deviation = axis(low, high, most_deviations);
    return scale;
}

std::string range_words(const std::string& range, const Words& words) {
    if (range.empty()) return words("open to air");
    const std::string& known = words.named("range", range);
    return &known != &range ? known : words("range named", {{"name", range}});
}

Strip deviation_plot(Typeface& type, const Results& results, const Scale& scale, const std::string& unit,
                     const Words& words, double width) {
    std::vector<Label> labels;
    std::vector<Line> ticks;
    double widest = 0;
    for (int i = 0; i <= scale.deviation.count; ++i) {
        ticks.push_back(type.line(tick_text(scale.deviation, i, words), small));
        widest = std::max(widest, ticks.back().width);
    }
    constexpr double to_axis = 5, right_margin = 14;
    Area area{widest + to_axis, 0, width - widest - to_axis - right_margin, area_height, scale};
    for (const Line& line : type.lines(words("plot deviation", {{"unit", unit}}), small, width)) {
        labels.push_back({line, 0, area.top});
        area.top += line.height;
    }
    std::vector<ReachBar> bars;
    area.top += 2;
    area.top += place_reaches(type, reaches_of(results), area, words, area.top, labels, bars) + 3;
    for (std::size_t i = 0; i < ticks.size(); ++i) {
        const double y = area.y(scale.deviation.first + static_cast<double>(i) * scale.deviation.step);
        labels.push_back({ticks[i], widest - ticks[i].width, y - ticks[i].height / 2});
    }
    double below = area.top + area.height + 4;
    double tick_height = 0;
    for (int i = 0; i <= scale.pressure.count; ++i) {
        const Line line = type.line(tick_text(scale.pressure, i, words), small);
        const double x = area.x(scale.pressure.first + i * scale.pressure.step) - line.width / 2;
        labels.push_back({line, std::min(x, width - line.width), below});
        tick_height = line.height;
    }
    below += tick_height;
    for (const Line& line : type.lines(words("plot reference", {{"unit", unit}}), small, area.width)) {
        labels.push_back({line, area.left + area.width - line.width, below});
        below += line.height;
    }
    const auto keys = keys_of(type, scale, words);
    const double key_top = below + 2;
    Strip strip;
    strip.height = key_top + keys.front().words.height + 2;
    strip.draw = [labels, bars, keys, area, key_top, results, scale](cairo_t* page, double x, double y) {
        cairo_save(page);
        cairo_translate(page, x, y);
        draw_frame(page, area);
        if (scale.permissible) draw_limits(page, results, area);
        draw_readings(page, results, area);
        cairo_set_source_rgb(page, 0, 0, 0);
        cairo_set_line_width(page, hair + 0.4);
        for (const ReachBar& bar : bars) {
            stroke(page, bar.from, bar.y, bar.to, bar.y);
            stroke(page, bar.from, bar.y - 1.5, bar.from, bar.y + 1.5);
            stroke(page, bar.to, bar.y - 1.5, bar.to, bar.y + 1.5);
        }
        for (const Label& label : labels)
            label.line.draw(page, label.x, label.y);
        for (const Key& key : keys) {
            cairo_set_source_rgb(page, 0, 0, 0);
            key.sign(page, area.left + key.x - 7, key_top + key.words.height / 2);
            key.words.draw(page, area.left + key.x, key_top);
        }
        cairo_restore(page);
    };
    return strip;
}

} // namespace stillmark::records::print
