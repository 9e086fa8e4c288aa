#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/print/strip.hpp"
#include "daemon/records/print/typeface.hpp"
#include "daemon/records/words.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::records::print {

/// An axis from `first` on in `count` steps of 1, 2 or 5 times a power of ten, so that it holds what it has to.
struct Axis {
    double first = 0;
    double step = 1;
    int count = 1;
    int decimals = 0; ///< of its labels

    double last() const { return first + step * count; }
};
/// `most` steps at the most, which is 2 or more. Of values that are all alike, or are no numbers: still an axis.
Axis axis(double least, double greatest, int most);

/// What plots that are to be compared share.
struct Scale {
    Axis pressure;
    Axis deviation;
    bool permissible = false; ///< the permissible error lies within it
};
/// One for all results; nothing where no reading has a deviation. Permissible errors that are far beyond every
/// deviation would press those flat: they are left out.
std::optional<Scale> scale_for(const std::vector<Results>& results);

/// Deviations over the reference pressure: triangles for rising and falling, bars for their uncertainty, lines for the
/// permissible error, and above them which range of the balance reaches how far.
Strip deviation_plot(Typeface& type, const Results& results, const Scale& scale, const std::string& unit,
                     const Words& words, double width);

/// The name of a range of the balance in words: "low range".
std::string range_words(const std::string& range, const Words& words);

} // namespace stillmark::records::print
