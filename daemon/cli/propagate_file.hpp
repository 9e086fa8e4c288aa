#pragma once

#include "daemon/metrology/propagation/measurement_model.hpp"

#include <boost/system/result.hpp>

#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::cli {

/// What a file for `stillmark propagate` asks for.
struct PropagateTask {
    std::string title;
    metrology::MeasurementModel model;
    std::vector<std::string> input_units;  ///< text for people, may be empty
    std::vector<std::string> output_names; ///< of `models`; one empty name for `model`
    std::vector<std::string> formulas;
    double coverage = 0.95;
    int digits = 2;
    bool trials_wanted = true;
    std::size_t trials = 0;         ///< 0: adaptive
    std::vector<std::string> notes; ///< what the reader should tell, such as an input that no model uses
};

/// A mistake in the file: the place, what was found, what would do.
struct PropagateMistake {
    std::string words;
};
[[noreturn]] inline void throw_exception_from_error(const PropagateMistake& mistake, const boost::source_location&) {
    throw std::runtime_error(mistake.words);
}

/// Reads the text of such a file, strictly; its format is in stillmark(1). Every model has a finite value at the
/// estimates.
boost::system::result<PropagateTask, PropagateMistake> read_propagate_file(std::string_view text);

} // namespace stillmark::cli
