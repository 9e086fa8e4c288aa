#pragma once

#include "drivers/units.hpp"

#include <boost/system/result.hpp>
#include <nlohmann/json.hpp>

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::drivers {

/// The first mistake in a file: one cause at a time, each with its place, what was found and what would do.
class Mistake {
  public:
    void note(const std::string& place, const std::string& what);
    bool found() const { return !message_.empty(); }
    const std::string& message() const { return message_; }

  private:
    std::string message_;
};

/// The JSON value in a text, comments allowed; a null and a noted mistake (with line and column) where it is none, or
/// where a key stands twice in one object.
nlohmann::json parse_strictly(const std::string& text, Mistake& mistake);

/// One object of a file, read key by key. Whatever is not asked for is an unknown key. After a mistake reading goes on
/// with empty values; only the first mistake is kept.
class JsonObject {
  public:
    /// `place` is the path inside the file, empty for the whole.
    JsonObject(const nlohmann::json& value, std::string place, Mistake& mistake);

    /// The value of a key, or nothing where it is absent.
    const nlohmann::json* find(const std::string& key);
    /// The same for a key that must be there; its absence is a mistake.
    const nlohmann::json* require(const std::string& key);

    std::string text(const std::string& key);
    /// SI value of a quantity text.
    std::optional<double> quantity(const std::string& key, Dimension dimension);
    std::optional<double> number(const std::string& key);
    std::optional<std::int64_t> integer(const std::string& key, std::int64_t lowest, std::int64_t highest);
    /// A text out of a list; the index in the list, 0 after a mistake.
    std::size_t choice(const std::string& key, const std::string& noun, const std::vector<std::string>& choices);
    /// The elements of a list; none where the key is absent.
    std::vector<const nlohmann::json*> list(const std::string& key);

    /// Notes the first key that nobody asked for. Called when all has been read.
    void refuse_unknown_keys();

    std::string place_of(const std::string& key) const;
    void note(const std::string& key, const std::string& what) { mistake_.note(place_of(key), what); }

  private:
    const nlohmann::json* value_;
    std::string place_;
    Mistake& mistake_;
    std::set<std::string> asked_;
};

/// A JSON value as a person would point at it: short, quoted where it is text.
std::string shown(const nlohmann::json& value);

} // namespace stillmark::drivers
