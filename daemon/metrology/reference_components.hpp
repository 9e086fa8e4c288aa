#pragma once

#include "daemon/metrology/air_density.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "daemon/metrology/reference_values.hpp"
#include "daemon/metrology/tilt.hpp"
#include "daemon/metrology/vented_line.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::metrology {

/// A place in the equation and what its value may be off by.
template <class Scalar>
struct Member {
    Scalar* place;
    Uncertain input;
};

/// Inputs that move together: each by its own u, at once and in the same sense.
template <class Scalar>
struct Component {
    std::string name;
    bool is_group; ///< several inputs, of which no single sensitivity exists
    std::vector<Member<Scalar>> members;
};

/// The components of a reference pressure, in the order in which they are listed.
template <class Scalar>
class Inventory {
  public:
    /// `covered` by a certificate's short form, which answers for it instead.
    explicit Inventory(std::vector<std::string> covered) : covered_(std::move(covered)) {}

    bool covers(const char* kind) const { return std::find(covered_.begin(), covered_.end(), kind) != covered_.end(); }

    void add(std::string name, Scalar& place, const Uncertain& input) {
        if (input.u > 0) components_.push_back({std::move(name), false, {{&place, input}}});
    }

    /// Joins the component of that name, which becomes a group by it.
    void add_to_group(const std::string& name, Scalar& place, const Uncertain& input) {
        if (!(input.u > 0)) return;
        const auto found = std::find_if(components_.begin(), components_.end(), [&](const Component<Scalar>& known) {
            return known.is_group && known.name == name;
        });
        if (found != components_.end()) {
            found->members.push_back({&place, input});
        } else {
            components_.push_back({name, true, {{&place, input}}});
        }
    }

    /// The same quantity in several places of the equation.
    void add_everywhere(std::string name, const std::vector<Scalar*>& places, const Uncertain& input) {
        if (!(input.u > 0)) return;
        Component<Scalar> shared{std::move(name), false, {}};
        for (Scalar* place : places) {
            shared.members.push_back({place, input});
        }
        components_.push_back(std::move(shared));
    }

    const std::vector<Component<Scalar>>& components() const { return components_; }

  private:
    std::vector<std::string> covered_;
    std::vector<Component<Scalar>> components_;
};

/// An error common to all of a group and one of its own, so that any two of its errors have the correlation r.
template <class Scalar>
void list_mass_of_group(const MassPiece& piece, FloatingMass<Scalar>& place, Inventory<Scalar>& inventory) {
    const double r = piece.mass_correlation;
    Uncertain common = piece.mass_kg;
    common.u *= std::sqrt(r);
    inventory.add_to_group("masses of " + piece.group, place.mass_kg, common);
    Uncertain own = piece.mass_kg;
    own.value = 0;
    own.u *= std::sqrt(1 - r);
    inventory.add("own error of " + piece.name, place.own_error_kg, own);
}

template <class Scalar>
void list_masses(const ReferenceInputs& inputs, ReferenceValues<Scalar>& values, Inventory<Scalar>& inventory) {
    auto place = values.range.masses.begin();
    for (const auto* pieces : {&inputs.range.floating_parts, &inputs.discs}) {
        for (const MassPiece& piece : *pieces) {
            if (!inventory.covers("masses")) {
                if (piece.group.empty())
                    inventory.add("mass of " + piece.name, place->mass_kg, piece.mass_kg);
                else
                    list_mass_of_group(piece, *place, inventory);
            }
            if (!inventory.covers("densities of masses")) {
                if (piece.group.empty())
                    inventory.add("density of " + piece.name, place->density_kg_m3, piece.density_kg_m3);
                else
                    inventory.add_to_group("densities of " + piece.group, place->density_kg_m3, piece.density_kg_m3);
            }
            ++place;
        }
    }
}

/// A fluid that stands at its place in the equation beside those of a line: what fills the balance.
template <class Fluid, class Values>
struct FluidAtPlace {
    const Fluid* fluid;
    Values* place;
};

/// The heights of a line's segments and the densities of its liquids; `of_balance` where a balance holds one.
template <class Scalar>
void list_liquids(std::optional<FluidAtPlace<Liquid, LiquidInputs<Scalar>>> of_balance,
                  const std::vector<HeadSegment>& head, std::vector<HeadInputs<Scalar>>& at,
                  Inventory<Scalar>& inventory) {
    std::vector<const Liquid*> liquids;
    std::vector<std::vector<Scalar*>> places;
    if (of_balance) {
        liquids.push_back(of_balance->fluid);
        places.push_back({&of_balance->place->density_kg_m3});
    }
    for (std::size_t i = 0; i < head.size(); ++i) {
        inventory.add("height of head segment " + std::to_string(i + 1), at[i].height_m, head[i].height_m);
        if (head[i].gas) continue;
        const Liquid& liquid = head[i].liquid;
        const auto known =
            std::find_if(liquids.begin(), liquids.end(), [&](const Liquid* other) { return *other == liquid; });
        const auto index = static_cast<std::size_t>(known - liquids.begin());
        if (known == liquids.end()) {
            liquids.push_back(&liquid);
            places.emplace_back();
        }
        places[index].push_back(&at[i].liquid.density_kg_m3);
    }
    for (std::size_t i = 0; i < liquids.size(); ++i) {
        const std::string which = !liquids[i]->name.empty() ? liquids[i]->name
                                  : i == 0                  ? "the liquid"
                                                            : "liquid " + std::to_string(i + 1);
        inventory.add_everywhere("density of " + which, places[i], liquids[i]->density_kg_m3);
    }
}

template <class Scalar>
void list_gases(std::optional<FluidAtPlace<Gas, GasInputs<Scalar>>> of_balance, const std::vector<HeadSegment>& head,
                std::vector<HeadInputs<Scalar>>& at, Inventory<Scalar>& inventory) {
    struct OneGas {
        const Gas* gas;
        std::vector<Scalar*> molar_masses, density_errors;
    };
    std::vector<OneGas> gases;
    const auto take = [&](const Gas& gas, GasInputs<Scalar>& place) {
        auto known = std::find_if(gases.begin(), gases.end(), [&](const OneGas& one) { return *one.gas == gas; });
        if (known == gases.end()) known = gases.insert(gases.end(), {&gas, {}, {}});
        known->molar_masses.push_back(&place.molar_mass_kg_mol);
        known->density_errors.push_back(&place.density_error);
    };
    if (of_balance) take(*of_balance->fluid, *of_balance->place);
    for (std::size_t i = 0; i < head.size(); ++i) {
        if (head[i].gas) take(*head[i].gas, *at[i].gas);
    }
    for (const OneGas& one : gases) {
        const std::string which = one.gas->name.empty() ? "the gas" : one.gas->name;
        inventory.add_everywhere("molar mass of " + which, one.molar_masses, one.gas->molar_mass_kg_mol);
        inventory.add_everywhere("equation of state of " + which, one.density_errors, one.gas->density_error);
    }
}

/// The two terms of a short form are one error: a and b p are added, not their squares.
template <class Scalar>
void list_short_form(const Range& range, ReferenceValues<Scalar>& values, Inventory<Scalar>& inventory) {
    if (!range.short_form) return;
    const std::string name = range.name.empty() ? "certificate of the range" : "certificate of the range " + range.name;
    const double dof = range.short_form->dof;
    inventory.add_to_group(name, values.certificate_error_pa,
                           {.value = 0, .u = range.short_form->constant_pa, .dof = dof});
    inventory.add_to_group(name, values.certificate_error,
                           {.value = 0, .u = range.short_form->of_pressure, .dof = dof});
}

/// `Values` are those of a load or of a vented line.
template <class Scalar, class Values>
void list_air(const Surroundings& air, Values& values, Inventory<Scalar>& inventory) {
    inventory.add("air temperature", values.air_temperature_c, air.temperature_c);
    inventory.add("air pressure", values.air_pressure_pa, air.pressure_pa);
    inventory.add("humidity", values.humidity, air.humidity);
    inventory.add("equation of the air density", values.air_equation, {.value = 0, .u = cipm_2007_relative_u});
    inventory.add("level of the barometer", values.barometer_height_m, air.barometer_height_m);
}

/// Every input with an uncertainty and its places in `values`, which must outlive the inventory. One physical quantity,
/// or one certificate, is one component.
template <class Scalar>
Inventory<Scalar> list_inputs(const ReferenceInputs& inputs, ReferenceValues<Scalar>& values) {
    Inventory<Scalar> inventory(inputs.range.short_form ? inputs.range.short_form->covers : std::vector<std::string>{});
    RangeInputs<Scalar>& range = values.range;
    const auto add_unless_covered = [&](const char* name, Scalar& place, const Uncertain& input) {
        if (!inventory.covers(name)) inventory.add(name, place, input);
    };
    list_short_form(inputs.range, values, inventory);
    add_unless_covered("effective area", range.area_m2, inputs.range.area_m2);
    inventory.add("drift of the area", range.area_drift, inputs.range.area_drift);
    add_unless_covered("thermal expansion", range.thermal_expansion_per_k, inputs.range.thermal_expansion_per_k);
    inventory.add("piston temperature", range.piston_temperature_c, inputs.piston_temperature_c);
    add_unless_covered("distortion coefficient", range.distortion_per_pa, inputs.range.distortion_per_pa);
    inventory.add("local gravity", range.gravity_m_s2, inputs.site.gravity_m_s2);
    list_masses(inputs, values, inventory);
    // An absolute pressure from an evacuated bell knows nothing of the laboratory's air.
    if (inputs.mode != PressureKind::absolute || inputs.counted_from == PressureKind::gauge) {
        list_air(inputs.air, values, inventory);
    }
    if (inputs.mode == PressureKind::absolute)
        inventory.add("residual pressure", range.residual_pressure_pa, inputs.residual_pressure_pa);
    if (inputs.counted_from == PressureKind::sealed)
        inventory.add("sealed reference pressure", values.sealed_reference_pa, inputs.sealed_reference_pa);
    if (!inputs.gas)
        add_unless_covered("surface tension", range.surface_tension_n_per_m, inputs.liquid.surface_tension_n_per_m);
    add_unless_covered("circumference", range.circumference_m, inputs.range.circumference_m);
    if (!inventory.covers("tilt")) inventory.add("tilt (1 - cos)", range.tilt_loss, tilt_loss(inputs.range.tilt_rad));
    add_unless_covered("immersed volume", range.immersed_volume_m3, inputs.range.immersed_volume_m3);
    inventory.add("level of the range", values.reference_level_m, inputs.range.reference_level_m);
    inventory.add("float height", values.float_height_m, inputs.range.float_height_m);
    std::optional<FluidAtPlace<Liquid, LiquidInputs<Scalar>>> liquid;
    std::optional<FluidAtPlace<Gas, GasInputs<Scalar>>> gas;
    if (inputs.gas)
        gas = {&*inputs.gas, &*values.gas};
    else
        liquid = {&inputs.liquid, &range.liquid};
    list_liquids(liquid, inputs.head, values.head, inventory);
    list_gases(gas, inputs.head, values.head, inventory);
    return inventory;
}

/// The same of a line that is open to air: air, line and what is sealed in, and nothing of a balance.
template <class Scalar>
Inventory<Scalar> list_inputs(const VentedLine& line, VentedValues<Scalar>& values) {
    Inventory<Scalar> inventory({});
    const bool stands = std::any_of(line.head.begin(), line.head.end(),
                                    [](const HeadSegment& segment) { return segment.height_m.value != 0; });
    if (stands) {
        inventory.add("temperature of the line", values.line_temperature_c, line.line_temperature_c);
        inventory.add("gravity on the line", values.gravity_m_s2, line.site.gravity_m_s2);
    }
    list_air(line.air, values, inventory);
    if (line.counted_from == PressureKind::sealed)
        inventory.add("sealed reference pressure", values.sealed_reference_pa, line.sealed_reference_pa);
    list_liquids<Scalar>({}, line.head, values.head, inventory);
    list_gases<Scalar>({}, line.head, values.head, inventory);
    return inventory;
}

} // namespace stillmark::metrology
