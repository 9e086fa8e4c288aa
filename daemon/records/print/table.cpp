#include "daemon/records/print/table.hpp"

#include "daemon/records/print/blocks.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace stillmark::records::print {

namespace {

constexpr Style body{table_size, false, 0};
constexpr Style head_style{7.2, false, label_grey};
constexpr Style group_style{table_size, true, 0};

/// Where a column lies, and where the decimal sign of its numbers stands: that far from its left side.
struct Place {
    double x = 0;
    double width = 0;
    double sign = 0;
};

std::string before_the_sign(const std::string& number) {
    return number.substr(0, number.find_first_of(".,"));
}

const Style& style_of(const TableRow& row) {
    static constexpr Style bold{table_size, true, 0};
    return row.bold ? bold : body;
}

double whole_part(Typeface& type, const std::string& number, const Style& style) {
    return type.line(before_the_sign(number), style).width;
}

double widest_word(Typeface& type, const std::string& text, const Style& style, bool at_hyphens) {
    double widest = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find_first_of(at_hyphens ? " -" : " ", at), text.size());
        const bool hyphen = end < text.size() && text[end] == '-';
        widest = std::max(widest, type.line(text.substr(at, end - at + (hyphen ? 1 : 0)), style).width);
        at = end + 1;
    }
    return widest;
}

void drop_empty(std::vector<Column>& columns, std::vector<TableRow>& rows) {
    for (std::size_t c = columns.size(); c-- > 0;) {
        if (std::ranges::any_of(rows, [c](const TableRow& row) { return !row.cells[c].empty(); })) continue;
        const auto offset = static_cast<std::ptrdiff_t>(c);
        columns.erase(columns.begin() + offset);
        for (TableRow& row : rows)
            row.cells.erase(row.cells.begin() + offset);
    }
}

/// What a column would like to have, and how far its numbers reach to both sides of the sign.
struct Wish {
    double width = 0;
    double least = 0; ///< below it even words are broken
    double floor = 0; ///< below it numbers are
    double before = 0;
    double after = 0;
};

Wish wish_of(Typeface& type, const Column& column, std::size_t c, const std::vector<TableRow>& rows) {
    Wish wish;
    wish.least = widest_word(type, column.head, head_style, true);
    for (const TableRow& row : rows) {
        const double whole = type.line(row.cells[c], style_of(row)).width;
        if (column.numbers) {
            const double before = whole_part(type, row.cells[c], style_of(row));
            wish.before = std::max(wish.before, before);
            wish.after = std::max(wish.after, whole - before);
        } else {
            wish.width = std::max(wish.width, whole);
            constexpr double word_at_most = 70;
            wish.least =
                std::max(wish.least, std::min(widest_word(type, row.cells[c], style_of(row), false), word_at_most));
        }
    }
    constexpr double narrow_words = 18;
    wish.floor = column.numbers ? wish.before + wish.after : std::min(wish.least, narrow_words);
    wish.least = std::max(wish.least, wish.floor);
    constexpr double head_at_most = 62;
    // A head with a hyphen in it is to be broken there.
    const bool hyphen = column.head.find('-') != std::string::npos;
    const double whole_head = hyphen ? 0 : std::min(type.line(column.head, head_style).width, head_at_most);
    wish.width = std::max({wish.width, wish.least, whole_head});
    return wish;
}

/// The words get what numbers leave. Where even the least of all is too much, words and heads are broken first, numbers
/// only where nothing else is left.
double width_of(const Wish& wish, const Wish& all, double room) {
    if (all.width <= room) return wish.width;
    if (all.least <= room) return wish.least + (wish.width - wish.least) * (room - all.least) / (all.width - all.least);
    if (all.floor < room) return wish.floor + (wish.least - wish.floor) * (room - all.floor) / (all.least - all.floor);
    return wish.floor * room / all.floor;
}

std::vector<Place> places_of(const std::vector<Wish>& wishes, double width) {
    Wish all;
    for (const Wish& wish : wishes) {
        all.width += wish.width;
        all.least += wish.least;
        all.floor += wish.floor;
    }
    constexpr double usual_gap = 7, narrow_gap = 4.5;
    const auto gaps = static_cast<double>(wishes.size() - 1);
    const double gap = all.least + usual_gap * gaps > width ? narrow_gap : usual_gap;
    const double room = width - gap * gaps;
    const double spare = all.width < room && gaps > 0 ? (room - all.width) / gaps : 0;
    std::vector<Place> places;
    double x = 0;
    for (const Wish& wish : wishes) {
        const double own = width_of(wish, all, room);
        places.push_back({x, own, own - wish.after});
        x += own + gap + spare;
    }
    return places;
}

struct Set {
    Line line;
    double x = 0;
};

/// Strips of what is set in each column, line by line; a row of a few lines is not broken.
Flow side_by_side(const std::vector<std::vector<Set>>& cells) {
    std::size_t count = 0;
    for (const auto& cell : cells)
        count = std::max(count, cell.size());
    constexpr std::size_t few = 8;
    Flow flow;
    for (std::size_t i = 0; i < count; ++i) {
        std::vector<Set> line;
        double above = 0, below = 0;
        for (const auto& cell : cells) {
            if (i >= cell.size()) continue;
            line.push_back(cell[i]);
            above = std::max(above, cell[i].line.baseline);
            below = std::max(below, cell[i].line.height - cell[i].line.baseline);
        }
        Strip strip;
        strip.height = above + below;
        strip.with_next = i + 1 < count && (count <= few || i == 0 || i + 2 == count);
        strip.draw = [line, above](cairo_t* page, double x, double y) {
            for (const Set& one : line)
                one.line.draw(page, x + one.x, y + above - one.line.baseline);
        };
        flow.push_back(std::move(strip));
    }
    return flow;
}

std::vector<Set> number_set(Typeface& type, const std::string& number, const Style& style, const Place& place) {
    const Line line = type.line(number, style);
    if (line.width > place.width) { // broken rather than cut
        std::vector<Set> all;
        for (const Line& part : type.lines(number, style, place.width))
            all.push_back({part, place.x});
        return all;
    }
    const double x = place.x + place.sign - whole_part(type, number, style);
    return {{line, std::clamp(x, place.x, place.x + place.width - line.width)}};
}

std::vector<Set> words_set(Typeface& type, const std::string& words, const Style& style, const Place& place,
                           bool to_the_right) {
    std::vector<Set> all;
    for (const Line& line : type.lines(words, style, std::ceil(place.width)))
        all.push_back({line, to_the_right ? place.x + place.width - line.width : place.x});
    return all;
}

} // namespace

Flow table(Typeface& type, std::vector<Column> columns, std::vector<TableRow> rows, double width,
           const std::string& continued) {
    drop_empty(columns, rows);
    if (rows.empty() || columns.empty()) return {};
    std::vector<Wish> wishes;
    for (std::size_t c = 0; c < columns.size(); ++c)
        wishes.push_back(wish_of(type, columns[c], c, rows));
    const auto places = places_of(wishes, width);

    std::vector<std::vector<Set>> heads;
    for (std::size_t c = 0; c < columns.size(); ++c) {
        heads.push_back(words_set(type, columns[c].head, head_style, places[c], columns[c].numbers));
    }
    Flow head;
    head.push_back(rule(width, 2, 0.5));
    append(head, side_by_side(heads));
    head.push_back(rule(width, 0.5, 1));

    Flow flow;
    flow.push_back(together(head));
    flow.back().with_next = true;
    std::string group;
    const std::shared_ptr<const Strip> bare = std::make_shared<Strip>(flow.back());
    auto again = bare;
    for (const TableRow& row : rows) {
        const bool new_group = flow.size() == 1 || row.group != group; // its first row does not stand alone
        if (row.group != group) {
            group = row.group;
            Flow name = kept(paragraph(type, group, group_style, width, flow.size() == 1 ? 0 : 2));
            Flow repeated{together(head)};
            append(repeated, paragraph(type, group + " " + continued, group_style, width));
            for (Strip& strip : name)
                strip.again = bare;
            append(flow, std::move(name));
            again = std::make_shared<Strip>(together(repeated));
        }
        std::vector<std::vector<Set>> cells;
        for (std::size_t c = 0; c < columns.size(); ++c)
            cells.push_back(columns[c].numbers ? number_set(type, row.cells[c], style_of(row), places[c])
                                               : words_set(type, row.cells[c], style_of(row), places[c], false));
        Flow lines = side_by_side(cells);
        for (Strip& strip : lines) {
            strip.again = again;
            strip.with_next = strip.with_next || new_group;
        }
        append(flow, std::move(lines));
    }
    flow.back().with_next = true;
    flow.push_back(rule(width, 1, 1.5));
    return flow;
}

} // namespace stillmark::records::print
