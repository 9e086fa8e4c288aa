#pragma once

namespace sample {

/// One point of a published calibration of a vacuum gauge, figures as its certificate prints them; pressures in Pa.
struct PublishedPoint {
    const char* p_cal; ///< generated pressure
    const char* u_cal; ///< its expanded uncertainty, k = 2
    const char* p_corr;
    const char* u_corr;
    const char* e; ///< p_corr/p_cal - 1
    const char* u_e;
    const char* factor; ///< p_cal/p_corr
    const char* u_factor;
};

/// Example certificate 75999PTB20, published with version 3.1.1 of the DCC schema
/// (examples/example_dcc-vacuumlab-CDG_v3.1.1.xml): nitrogen, 14 points. tests/checks/evaluation.md lists it.
inline constexpr PublishedPoint published_gauge[] = {
    {"26.650", "0.040", "26.900", "0.15", "0.0094", "0.0060", "0.9907", "0.0059"},
    {"132.616", "0.20", "133.06", "0.15", "0.0033", "0.0019", "0.9967", "0.0019"},
    {"269.923", "0.20", "270.75", "0.24", "0.0031", "0.0012", "0.9969", "0.0011"},
    {"1333.35", "1.4", "1338.12", "0.36", "0.0036", "0.0011", "0.9964", "0.0011"},
    {"2673.54", "1.3", "2682.62", "0.59", "0.00340", "0.00053", "0.99662", "0.00053"},
    {"5335.19", "1.6", "5352.40", "1.1", "0.00323", "0.00036", "0.99678", "0.00036"},
    {"8006.1", "2.1", "8030.2", "1.6", "0.00301", "0.00033", "0.99700", "0.00033"},
    {"10706.6", "2.4", "10736.6", "2.2", "0.00280", "0.00030", "0.99721", "0.00030"},
    {"13304.9", "3.1", "13341.3", "2.7", "0.00274", "0.00031", "0.99727", "0.00031"},
    {"16011.4", "11", "16045.6", "3.2", "0.00214", "0.00070", "0.99787", "0.00070"},
    {"18699.1", "11", "18742.9", "3.8", "0.00235", "0.00061", "0.99766", "0.00061"},
    {"21304.7", "11", "21356.3", "4.3", "0.00242", "0.00055", "0.99759", "0.00055"},
    {"24015.6", "11", "24065.9", "4.8", "0.00209", "0.00050", "0.99791", "0.00050"},
    {"26706.4", "11", "26770.1", "5.4", "0.00238", "0.00047", "0.99762", "0.00047"},
};

} // namespace sample
