#pragma once

#include "daemon/metrology/evaluation/observation.hpp"

#include <string>
#include <vector>

namespace stillmark::cli {

/// Observations out of a table of comma-separated values (RFC 4180; a byte order mark and LF alone are taken too). The
/// first line names the columns, in any order: `series`, `direction` (up or down), `reference`, `reading`; `untapped`,
/// `u_reference`, `u_reading`, `target`, `note`, `vented` (yes or no), `void` (the reason why a
/// reading does not stand), `dof_reference` and `dof_reading` (degrees of freedom of the two uncertainties) may follow.
/// `reference` and `reading` may carry their unit in brackets, "reading [bar]". A row that cannot be read is kept, left
/// out with its reason, and told in `objections`.
struct ObservationTable {
    std::vector<metrology::Observation> rows;
    std::string reference_unit; ///< as the heading says; empty: it does not
    std::string reading_unit;
    bool zeros_are_marked = false;       ///< there is a column `vented`
    std::vector<std::string> objections; ///< one a bad row: "line 7: ..."
    std::string mistake;                 ///< not empty: the table cannot be used at all
};
ObservationTable read_observations(const std::string& name, const std::string& text);

} // namespace stillmark::cli
