#pragma once

#include <cstdint>

namespace stillmark::acquisition {

/// Whether an instrument knows the request that it is asked. Exceptions 1 and 2 of Modbus say that it does not; an
/// instrument that answered before may also send one of them by mistake, or while it starts. Pure.
class SupportWatch {
  public:
    /// After an earlier success so many in a row make the request unsupported; without one the first does.
    static constexpr std::uint32_t refusals_of_a_proven_instrument = 5;

    /// What the latest answer was; silence and bad frames say nothing about it.
    void answered(bool refused_as_unknown) {
        if (!refused_as_unknown) {
            proven_ = true;
            in_row_ = 0;
            unsupported_ = false;
            return;
        }
        ++in_row_;
        unsupported_ = !proven_ || in_row_ >= refusals_of_a_proven_instrument;
    }
    /// A person wants it asked again.
    void ask_again() {
        unsupported_ = false;
        in_row_ = 0;
    }

    bool unsupported() const { return unsupported_; }

  private:
    bool proven_ = false;
    bool unsupported_ = false;
    std::uint32_t in_row_ = 0;
};

} // namespace stillmark::acquisition
