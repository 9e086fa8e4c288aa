#include "daemon/metrology/distortion.hpp"

namespace stillmark::metrology {

double distortion_from_materials(const Elasticity& piston, const Elasticity& cylinder, double outer_to_inner) {
    const double inner_to_outer = 1 / outer_to_inner; // so that a thick block needs no case of its own
    const double bore = (1 + inner_to_outer * inner_to_outer) / (1 - inner_to_outer * inner_to_outer);
    return (3 * piston.poisson - 1) / (2 * piston.youngs_modulus_pa) +
           (bore + cylinder.poisson) / (2 * cylinder.youngs_modulus_pa);
}

} // namespace stillmark::metrology
