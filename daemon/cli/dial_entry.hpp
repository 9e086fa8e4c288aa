#pragma once

#include "daemon/cli/frame.hpp"

#include <optional>
#include <string>

namespace stillmark::cli {

/// What a person reads off a dial, being typed: first the reading before tapping, then the one after.
/// The unit is the dial's own and need not be typed; another one is refused in words, not converted, because a dial
/// that reads in one unit and a person who types another have not looked at the same scale.
class DialEntry {
  public:
    /// `started_us`: when the person began to type, which is when the dial had been looked at.
    DialEntry(const Channel& channel, Micros started_us);

    const std::string& channel() const { return channel_; }
    Micros started_us() const { return started_us_; }
    /// True until something was typed.
    bool untouched() const { return untapped_.empty() && tapped_.empty(); }
    void type(char character);
    void erase();

    /// Takes what was typed: why it cannot be taken, or nothing. Past the second field the entry is complete. Nothing
    /// typed in the second field says that tapping changed nothing.
    std::optional<std::string> take();
    bool complete() const { return field_ == Field::complete; }
    /// Back to the second field, so that what was refused can be mended.
    void reopen() { field_ = Field::tapped; }
    /// The readings with their unit; meaningful where the entry is complete.
    const std::string& untapped() const { return untapped_result_; }
    const std::string& tapped() const { return tapped_result_; }

    /// The entry as one line, '_' where the next character goes.
    std::string line() const;

  private:
    enum class Field { untapped, tapped, complete };
    std::string& typed() { return field_ == Field::untapped ? untapped_ : tapped_; }
    std::string shown(Field field) const;

    std::string channel_, unit_;
    std::optional<double> division_;
    std::int64_t parts_;
    Micros started_us_;
    Field field_ = Field::untapped;
    std::string untapped_, tapped_;
    std::string untapped_result_, tapped_result_;
};

/// A reading with its unit out of what was typed ("40,2" for a dial in bar: "40.2 bar"), or why it is none.
struct TypedReading {
    std::string text;    ///< the reading with its unit
    std::string refusal; ///< why there is none
};
/// A reading must lie on a `parts`-th of the dial's `division` (in its unit), where that is known.
TypedReading read_typed(const std::string& typed, const std::string& channel, const std::string& unit,
                        std::optional<double> division, std::int64_t parts);

} // namespace stillmark::cli
