#include "daemon/metrology/uncertain.hpp"

#include <cmath>

namespace stillmark::metrology {

const char* word(Distribution distribution) {
    switch (distribution) {
    case Distribution::rectangular:
        return "rectangular";
    case Distribution::triangular:
        return "triangular";
    case Distribution::arcsine:
        return "arcsine";
    case Distribution::normal:
        break;
    }
    return "normal";
}

double standard_uncertainty(double half_width, Distribution distribution) {
    switch (distribution) {
    case Distribution::rectangular:
        return half_width / std::sqrt(3.0);
    case Distribution::triangular:
        return half_width / std::sqrt(6.0);
    case Distribution::arcsine:
        return half_width / std::sqrt(2.0);
    case Distribution::normal:
        break;
    }
    return half_width / 3;
}

} // namespace stillmark::metrology
