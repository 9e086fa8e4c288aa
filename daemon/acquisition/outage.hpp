#pragma once

#include "protocols/instant.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>

namespace stillmark::acquisition {

/// A line for the log that people see.
struct Change {
    std::string words;
    bool bad;
};

enum class Failing {
    unanswered, ///< nothing came, or nothing that could be trusted: enough of these make a loss
    answered,   ///< an answer came that is no reading: a fault of the instrument, out of its range, refused
    for_good,   ///< asking again is pointless; said always
};

/// Follows the failures of one thing that answers or does not, an instrument or a bus, and says when people should hear
/// of it: loud on change, quiet otherwise. Pure: the clock is passed in.
///   first failure        said at once, but not twice within five minutes; a flicker is counted meanwhile
///   another kind         said at once too, and then not again within five minutes
///   loss                 five times running no answer, and two seconds without any: said always
///   failures that go on  one line in five minutes, with the count
///   recovery             said with the count of failures, where the outage had been said
class Outage {
  public:
    explicit Outage(std::string name) : name_(std::move(name)) {}

    /// `what` is the kind, in words: "silent", "bad frame"; `detail` may be empty.
    std::optional<Change> failed(Micros now_us, Failing how, const std::string& what, const std::string& detail);
    std::optional<Change> succeeded(Micros now_us);

    /// Two conditions, so that neither a fast poll nor a slow one calls a hiccup a loss.
    bool lost() const { return lost_; }

  private:
    std::string name_;
    std::uint64_t failures_ = 0;           ///< of the outage that goes on; 0 where none does
    std::uint64_t unsaid_outages_ = 0;     ///< flickers since the last line that were only counted
    std::uint64_t unanswered_ = 0;         ///< of those, the latest ones running
    std::optional<Micros> last_answer_us_; ///< or the first question
    bool said_ = false;                    ///< whether this outage has been said
    bool lost_ = false;
    std::map<std::string, Micros> lines_us_; ///< of each kind that was said, when last
};

} // namespace stillmark::acquisition
