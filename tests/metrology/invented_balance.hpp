#pragma once

#include "daemon/metrology/pressure_equation.hpp"
#include "daemon/metrology/reference_pressure.hpp"

#include <cmath>
#include <numbers>
#include <random>

namespace stillmark::metrology {

/// The worked case of the regression tests: a hydraulic balance at about 50 MPa, true masses. Its inputs are invented;
/// its results were worked out with 50 digits from the published form of the equation (R. Lewisch, Bulletin de l'OIML
/// 128 (1992)).
inline RangeInputs<double> worked_case() {
    RangeInputs<double> in;
    in.masses = {{0.2003125, 14950, false}, {0.8001842, 2800, false}, {49.0007311, 7920, false}};
    in.gravity_m_s2 = 9.8123456;
    in.air_density_kg_m3 = 1.1852;
    in.surface_tension_n_per_m = 0.0312;
    in.area_m2 = 9.805123e-6;
    in.circumference_m = 2 * std::sqrt(std::numbers::pi * in.area_m2);
    in.thermal_expansion_per_k = 9.0e-6;
    in.piston_temperature_c = 21.37;
    in.distortion_per_pa = 0.9417e-12;
    return in;
}

/// An invented balance with an uncertainty on every input.
inline ReferenceInputs invented_inputs() {
    ReferenceInputs in;
    in.range.name = "high";
    in.range.area_m2 = {.value = 11.3e-6, .u = 1.7e-10, .dof = 40};
    in.range.area_drift = {.value = 0, .u = 1.7e-5, .distribution = Distribution::rectangular};
    in.range.thermal_expansion_per_k = {.value = 9.5e-6, .u = 6e-7, .distribution = Distribution::rectangular};
    in.range.distortion_per_pa = {.value = 0.9e-12, .u = 6e-14, .distribution = Distribution::rectangular};
    in.range.distortion2_per_pa2 = 1e-22;
    in.range.circumference_m = {.value = 11.92e-3, .u = 2e-5};
    in.range.tilt_rad = {.value = 0, .u = 4.6e-4, .distribution = Distribution::rectangular};
    in.range.immersed_volume_m3 = {.value = 2e-8, .u = 2e-9};
    in.range.float_height_m = {.value = 0, .u = 2.3e-3, .distribution = Distribution::rectangular};
    in.range.reference_level_m = {.value = 12e-3, .u = 5e-4};
    in.range.floating_parts = {
        {"carrier", {.value = 1.2, .u = 5e-6, .dof = 12}, {.value = 7800, .u = 46}, false, ""},
    };
    in.discs = {
        {"A1", {.value = 10, .u = 3e-5, .dof = 30}, {.value = 7920, .u = 35}, true, "set"},
        {"A2", {.value = 10, .u = 3e-5, .dof = 30}, {.value = 7920, .u = 35}, true, "set"},
        {"C1", {.value = 2, .u = 6e-6, .dof = 20}, {.value = 7920, .u = 35}, true, "set"},
    };
    in.site.gravity_m_s2 = {.value = 9.80731, .u = 2e-5};
    in.air.temperature_c = {.value = 21.5, .u = 0.29, .distribution = Distribution::rectangular};
    in.air.pressure_pa = {.value = 96800, .u = 100};
    in.air.humidity = {.value = 0.45, .u = 0.058, .distribution = Distribution::rectangular};
    in.piston_temperature_c = {.value = 21.3, .u = 0.17, .distribution = Distribution::triangular};
    in.liquid.density_kg_m3 = {.value = 865, .u = 4.3};
    in.liquid.expansion_per_k = 7e-4;
    in.liquid.compressibility_per_pa = 6.5e-10;
    in.liquid.surface_tension_n_per_m = {.value = 0.0305, .u = 0.0017};
    Liquid water;
    water.density_kg_m3 = {.value = 998.2, .u = 0.5};
    water.compressibility_per_pa = 4.6e-10;
    water.name = "water";
    in.head = {{in.liquid, {.value = 0.085, .u = 1e-3}}, {water, {.value = -0.31, .u = 2e-3}}};
    return in;
}

/// A balance that could be, drawn from what balances are like.
inline ReferenceInputs random_inputs(std::mt19937_64& dice) {
    const auto between = [&](double low, double high) {
        return std::uniform_real_distribution<double>(low, high)(dice);
    };
    ReferenceInputs in = invented_inputs();
    in.range.area_m2.value = std::exp(between(std::log(2e-6), std::log(1e-3)));
    in.range.area_drift.value = between(-5e-5, 5e-5);
    in.range.thermal_expansion_per_k.value = between(8e-6, 24e-6);
    in.range.distortion_per_pa.value = between(-2e-12, 5e-12);
    in.range.distortion2_per_pa2 = between(-1e-21, 1e-21);
    in.range.immersed_volume_m3.value = between(-3e-7, 3e-7);
    in.range.tilt_rad.value = between(0, 2e-3);
    in.range.reference_level_m.value = between(-0.1, 0.1);
    in.range.float_height_m.value = between(-0.005, 0.005);
    for (MassPiece& piece : in.discs) {
        piece.mass_kg.value = between(0.1, 20);
        piece.density_kg_m3.value = between(2700, 8600);
        piece.conventional = between(0, 1) < 0.5;
    }
    in.site.gravity_m_s2.value = between(9.78, 9.832);
    in.air.temperature_c.value = between(15, 27);
    in.air.pressure_pa.value = between(6e4, 1.1e5);
    in.air.humidity.value = between(0.05, 0.95);
    in.piston_temperature_c.value = between(18, 28);
    in.liquid.density_kg_m3.value = between(800, 1100);
    in.head[0].liquid = in.liquid;
    in.head[0].height_m.value = between(-0.5, 0.5);
    return in;
}

} // namespace stillmark::metrology
