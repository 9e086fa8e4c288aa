#pragma once

#include <cstddef>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::metrology {

/// Something that could not be said, or only so, and why.
struct Unsaid {
    std::string what;
    std::string why;
};

/// What could not be said, in the order in which it was found. The same of several points is one entry that names them,
/// the first twenty by name: a table may have a hundred thousand.
class UnsaidList {
  public:
    void add(std::string what, std::string why);
    /// "`what` at `point`", with further points of the same what and why.
    void add_at(const std::string& point, const std::string& what, const std::string& why);
    std::vector<Unsaid> take();

  private:
    struct Entry {
        Unsaid said;
        std::size_t points = 0;
    };
    std::vector<Entry> entries_;
    std::map<std::pair<std::string, std::string>, std::size_t> at_points_;
};

/// A value for a sentence, to seven digits.
std::string number(double value);

} // namespace stillmark::metrology
