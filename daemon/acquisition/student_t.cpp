#include "daemon/acquisition/student_t.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <limits>

namespace stillmark::acquisition {

namespace {
constexpr double confidence = 0.95;
}

const double StudentT95::unknown = std::numeric_limits<double>::quiet_NaN();

double t_95(double dof) {
    return boost::math::quantile(boost::math::students_t(dof), confidence);
}

StudentT95::StudentT95() {
    values_[0] = boost::math::quantile(boost::math::normal(), confidence);
    for (std::size_t i = 1; i < values_.size(); ++i)
        values_[i] = t_95(steps_per_unit / static_cast<double>(i));
}

const StudentT95& StudentT95::table() {
    static const StudentT95 the_table;
    return the_table;
}

} // namespace stillmark::acquisition
