#pragma once

#include "daemon/metrology/uncertain.hpp"
#include "drivers/units.hpp"

#include <nlohmann/json.hpp>

#include <initializer_list>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::bench {

/// The first mistake that was found in a file; one cause a mistake, so later ones are not told.
struct Finding {
    std::string file;
    std::optional<std::string> first;
    void say(const std::string& place, const std::string& what);
    bool any() const { return first.has_value(); }
};

/// One place in a JSON file, for reading it strictly: every accessor either returns what stands there in SI, or
/// records what was found and what would do, and returns something harmless.
class Place {
  public:
    Place(const nlohmann::json& node, std::string path, Finding& finding);

    /// Refuses every key that is not listed.
    const Place& only(std::initializer_list<const char*> known) const;
    bool has(const char* key) const;
    Place at(const char* key) const;  ///< a key that must be there
    std::vector<Place> items() const; ///< of a list
    std::vector<Place> items_at(const char* key, std::size_t least = 1) const;

    std::string text() const; ///< not empty, at most 500 bytes
    double quantity(drivers::Dimension dimension) const;
    double over_zero(drivers::Dimension dimension) const;
    int whole(int least, int most) const;
    double number() const; ///< without a unit: a factor, a coefficient
    bool yes_or_no() const;
    /// A text, or an object of value with u, U and k, or limits.
    metrology::Uncertain uncertain(drivers::Dimension dimension) const;
    /// Like uncertain(), where the value is zero by its nature and may be left out (a drift, a tilt).
    metrology::Uncertain about_zero(drivers::Dimension dimension) const;

    std::string text_or(const char* key, const std::string& otherwise) const;
    double quantity_or(const char* key, drivers::Dimension dimension, double otherwise) const;
    /// The same where no sign belongs: a spread, or a length whose direction stands in words.
    double size_or(const char* key, drivers::Dimension dimension, double otherwise) const;
    metrology::Uncertain uncertain_or(const char* key, drivers::Dimension dimension,
                                      const metrology::Uncertain& otherwise) const;

    void say(const std::string& what) const { finding_->say(path_, what); }
    const std::string& path() const { return path_; }
    const nlohmann::json& node() const { return *node_; }
    bool wrong() const { return finding_->any(); }

  private:
    metrology::Uncertain spread(const metrology::Uncertain& value, drivers::Dimension dimension) const;
    double interval(drivers::Dimension dimension, double of_value) const;

    const nlohmann::json* node_;
    std::string path_;
    Finding* finding_;
};

/// Parses JSON with comments. A key that stands twice is told with its place, an error of syntax with line and column.
std::optional<nlohmann::json> parse_json(const std::string& text, Finding& finding);

} // namespace stillmark::bench
