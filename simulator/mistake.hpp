#pragma once

#include <stdexcept>

namespace stillmark::simulator {

/// A mistake in a file that a person wrote, in words that name the place, what was found and what would do.
class Mistake : public std::runtime_error {
  public:
    using std::runtime_error::runtime_error;
};

} // namespace stillmark::simulator
