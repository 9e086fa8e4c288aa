#pragma once

#include "daemon/records/print/strip.hpp"
#include "daemon/records/print/typeface.hpp"

#include <string>
#include <utility>
#include <vector>

namespace stillmark::records::print {

inline constexpr double table_size = 7.5;
inline constexpr double label_grey = 0.32;

/// Lines of one text; the first two and the last two stay together.
Flow paragraph(Typeface& type, std::string_view text, const Style& style, double width, double before = 0);

/// With a rule below it, unless a table with its own follows.
Flow heading(Typeface& type, std::string_view text, double width, bool ruled = true);

/// A label and what it says; one without anything to say is left out.
using Pairs = std::vector<std::pair<std::string, std::string>>;
/// Labels in a narrow column, what they say beside them.
inline constexpr double usual_label = 78;
Flow definitions(Typeface& type, const Pairs& pairs, double width, double label_width = usual_label,
                 double size = Style{}.size);

/// Two flows side by side, `right` from `at` on.
Flow beside(const Flow& left, const Flow& right, double at);

/// A thin line from side to side.
Strip rule(double width, double before, double after);

/// Several strips as one that is not broken.
Strip together(const Flow& flow);

/// Words and at their side, from `at` on, something with a height of its own; words that are very long stand below it.
void beside_fixed(Flow& flow, Flow left, const Strip& right, double at);

void append(Flow& flow, Flow more);
/// All of it stays together and with what follows.
Flow kept(Flow flow);

} // namespace stillmark::records::print
