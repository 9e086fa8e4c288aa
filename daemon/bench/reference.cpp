#include "daemon/bench/reference.hpp"

namespace stillmark::bench {

metrology::ReferenceInputs reference_inputs(const BenchFile& bench, std::size_t range,
                                            const std::vector<std::size_t>& discs, const metrology::Surroundings& air,
                                            const metrology::Uncertain& piston_temperature_c,
                                            const Instrument* instrument) {
    metrology::ReferenceInputs inputs;
    inputs.range = bench.balance.ranges[range].physics;
    for (const std::size_t disc : discs)
        inputs.discs.push_back(bench.discs[disc].piece);
    inputs.site = bench.site;
    inputs.air = air;
    inputs.piston_temperature_c = piston_temperature_c;
    inputs.liquid = bench.balance.liquid;
    inputs.gas = bench.balance.gas;
    inputs.mode = bench.balance.mode;
    inputs.residual_pressure_pa = bench.balance.residual_pressure_pa;
    inputs.counted_from = inputs.mode;
    if (instrument != nullptr) {
        inputs.head = instrument->head;
        inputs.counted_from = instrument->counted_from;
        inputs.sealed_reference_pa = instrument->sealed_reference_pa;
    }
    return inputs;
}

metrology::VentedLine vented_line(const BenchFile& bench, const metrology::Surroundings& air,
                                  const metrology::Uncertain& line_temperature_c, const Instrument& instrument) {
    return {
        bench.site, air, line_temperature_c, instrument.head, instrument.counted_from, instrument.sealed_reference_pa};
}

double above_air_pa(const Instrument& instrument, double reading_pa, const metrology::Surroundings& air) {
    switch (instrument.counted_from) {
    case metrology::PressureKind::absolute:
        return reading_pa - air.pressure_pa.value;
    case metrology::PressureKind::sealed:
        return reading_pa + instrument.sealed_reference_pa.value - air.pressure_pa.value;
    case metrology::PressureKind::gauge:
        break;
    }
    return reading_pa;
}

} // namespace stillmark::bench
