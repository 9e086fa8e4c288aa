#include "daemon/records/print/strip.hpp"

namespace stillmark::records::print {

namespace {

/// The height of strips [first, last) from the top of a page or further down.
double height_of(const Flow& flow, std::size_t first, std::size_t last, bool at_top) {
    double height = at_top && flow[first].again ? flow[first].again->height : 0;
    for (std::size_t i = first; i < last; ++i)
        height += flow[i].height + (i == first && at_top ? 0 : flow[i].before);
    return height;
}

} // namespace

std::vector<Page> paginate(const Flow& flow, double height) {
    std::vector<Page> pages(1);
    double y = 0;
    const auto place = [&](const Strip& strip) {
        const bool at_top = pages.back().empty();
        if (at_top && strip.again) {
            pages.back().push_back({strip.again.get(), 0});
            y = strip.again->height;
        } else if (!at_top) {
            y += strip.before;
        }
        pages.back().push_back({&strip, y});
        y += strip.height;
    };
    const auto turn = [&] {
        pages.emplace_back();
        y = 0;
    };
    for (std::size_t first = 0; first < flow.size();) {
        std::size_t last = first + 1;
        while (last < flow.size() && flow[last - 1].with_next)
            ++last;
        const bool fits_one_page = height_of(flow, first, last, true) <= height;
        if (fits_one_page && !pages.back().empty() && y + height_of(flow, first, last, false) > height) turn();
        for (std::size_t i = first; i < last; ++i) {
            if (!pages.back().empty() && y + flow[i].before + flow[i].height > height) turn();
            place(flow[i]);
        }
        first = last;
    }
    return pages;
}

} // namespace stillmark::records::print
