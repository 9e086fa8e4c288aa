#pragma once

#include "daemon/metrology/evaluation/conformity.hpp"

namespace stillmark::metrology {

/// What an acceptance limit means for the instruments of a process: probabilities that their deviation conforms and
/// that it is accepted (JCGM 106:2012, 8 and 9).
struct AcceptanceRisks {
    double conforming = 0;  ///< an instrument of the process conforms
    double accepted = 0;    ///< it is accepted
    double consumers = 0;   ///< global: it is accepted and does not conform
    double producers = 0;   ///< global: it is rejected and conforms
    double of_accepted = 0; ///< conditional: an accepted one does not conform; not a number where none is accepted
    double of_rejected = 0; ///< conditional: a rejected one conforms; not a number where none is rejected
    double specific_at_limit = 0; ///< specific: a deviation measured at the acceptance limit does not conform, of
                                  ///< the measurement alone
};

/// For deviations within +-`permissible` where measured ones within +-`acceptance` are accepted; `u` is the standard
/// uncertainty of a measured deviation, over zero, and so is the standard deviation of the process. All in one unit.
AcceptanceRisks acceptance_risks(const Process& process, double u, double permissible, double acceptance);

} // namespace stillmark::metrology
