#include "daemon/acquisition/sliding_window.hpp"

#include <algorithm>
#include <bit>

namespace stillmark::acquisition {

SlidingWindow::SlidingWindow(std::size_t usual, std::size_t most)
    : ring_(std::bit_ceil(std::max<std::size_t>(usual, 4))), mask_(ring_.size() - 1), most_(std::max(usual, most)) {}

void SlidingWindow::make_room() {
    if (ring_.size() >= most_) {
        forget_first();
        return;
    }
    std::vector<Kept> larger(2 * ring_.size());
    for (std::size_t i = 0; i < count_; ++i)
        larger[i] = at(i);
    ring_ = std::move(larger);
    mask_ = ring_.size() - 1;
    first_ = 0;
}

void SlidingWindow::rebuild() {
    // Two passes, as for a mark, about the reading in the middle: exact where all readings are the same.
    const Kept middle = at(count_ / 2);
    double sum_x = 0;
    double sum_y = 0;
    for (std::size_t i = 0; i < count_; ++i) {
        sum_x += 1e-6 * static_cast<double>(at(i).at_us - middle.at_us);
        sum_y += at(i).value_pa - middle.value_pa;
    }
    const auto n = static_cast<double>(count_);
    const double mean_x = sum_x / n;
    const double mean_y = sum_y / n;
    double sxx = 0;
    double sxy = 0;
    for (std::size_t i = 0; i < count_; ++i) {
        const double x = 1e-6 * static_cast<double>(at(i).at_us - middle.at_us) - mean_x;
        sxx += x * x;
        sxy += x * ((at(i).value_pa - middle.value_pa) - mean_y);
    }
    anchor_us_ = middle.at_us;
    anchor_slope_ = sxx > 0 ? sxy / sxx : 0;
    anchor_pa_ = middle.value_pa + (mean_y - anchor_slope_ * mean_x);
    sums_ = {};
    front_ = about_anchor(at(0));
    for (std::size_t i = 0; i < count_; ++i) {
        const Point point = about_anchor(at(i));
        if (i > 0) add_pair(back_, point, +1);
        add(point, +1);
        back_ = point;
    }
    since_rebuild_ = 0;
    fresh_ = true;
}

} // namespace stillmark::acquisition
