#pragma once

#include <vector>

namespace stillmark::bench {

struct BenchFile;

/// One line of the laboratory's table of capability: from a pressure to a pressure, both ends within, the expanded
/// uncertainty a + b p that it has shown to be capable of, with its coverage factor.
struct CapabilityRange {
    double from_pa = 0;
    double to_pa = 0;
    double constant_pa = 0;
    double of_pressure = 0;
    double k = 2;
};

/// The least expanded uncertainty (k = 2) that the laboratory may report at a pressure: of two lines that meet there
/// the larger; 0 where the bench file states no capability for it. Below zero the capability of the magnitude counts,
/// unless a line for the negative pressure itself states more.
double capability_floor_pa(const BenchFile& bench, double pressure_pa);

} // namespace stillmark::bench
