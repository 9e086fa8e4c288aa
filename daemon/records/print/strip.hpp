#pragma once

#include <cairo.h>
#include <functional>
#include <memory>
#include <vector>

namespace stillmark::records::print {

/// What stands on a page from side to side and is never broken: a line of text, a line of a table's row, a plot.
struct Strip {
    double height = 0;
    double before = 0;      ///< blank above it; none at the top of a page
    bool with_next = false; ///< the next one stands on the same page
    std::function<void(cairo_t* page, double x, double y)> draw;
    std::shared_ptr<const Strip> again; ///< stands above it where it begins a page: the head of its table
};
using Flow = std::vector<Strip>;

struct Placed {
    const Strip* strip;
    double y; ///< of its top
};
using Page = std::vector<Placed>;

/// Puts the strips on pages of that height, those that belong together on one where they fit on one. The flow must
/// outlive the pages. At least one page.
std::vector<Page> paginate(const Flow& flow, double height);

} // namespace stillmark::records::print
