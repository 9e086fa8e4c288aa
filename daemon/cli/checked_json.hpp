#pragma once

#include <nlohmann/json.hpp>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::cli {

using Json = nlohmann::json;

/// Reads the keys of one object that came from outside. Nothing here throws. A key that is missing or null gives an
/// empty value; a key of another type gives an empty value too, and the first such finding is kept as a sentence that
/// names its place, such as "channels[0].value: a text stands where a number belongs".
class Fields {
  public:
    /// `value` may be of any type; one that is no object is itself the first objection. `objection` is shared by all
    /// readers of one message and must outlive them.
    Fields(const Json& value, std::string place, std::string& objection);

    std::string text(std::string_view key) const;
    std::optional<double> number(std::string_view key) const;
    std::optional<std::int64_t> whole(std::string_view key) const;
    bool flag(std::string_view key) const;
    std::vector<std::string> texts(std::string_view key) const;
    /// The object under this key, or nullptr.
    const Json* object(std::string_view key) const;
    /// The list under this key, or nullptr.
    const Json* list(std::string_view key) const;
    /// Where the value of this key stands in the message.
    std::string place_of(std::string_view key) const;

  private:
    const Json* find(std::string_view key) const;
    void object_to(std::string_view key, const Json& found, std::string_view wanted) const;

    const Json& object_;
    std::string place_;
    std::string& objection_;
};

/// The JSON value of one line, or nothing where it is none.
std::optional<Json> parse_line(std::string_view line);

/// One line of JSON, without the line end. Text that is no UTF-8 goes out with replacement characters.
std::string to_line(const Json& value);

} // namespace stillmark::cli
