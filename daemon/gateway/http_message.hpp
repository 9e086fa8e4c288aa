#pragma once

#include <nlohmann/json.hpp>

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace stillmark::gateway {

/// The path and query of a request, decoded.
struct HttpTarget {
    std::vector<std::string> parts; ///< of the path, without its slashes: none for "/"
    std::map<std::string, std::string> query;
};

/// Reads the target of a request, or says nothing where it is none that this service could have: every path here is
/// plain, so dots, empty parts, slashes in disguise, control characters and bytes that are no UTF-8 are refused before
/// anything is looked up.
std::optional<HttpTarget> read_target(std::string_view target);

/// Whether bytes are well-formed UTF-8 without control characters.
bool is_plain_text(std::string_view bytes);

struct HttpRequest {
    std::string method;
    HttpTarget target;
    std::map<std::string, std::string> headers; ///< names in small letters
    std::string body;
    std::string from; ///< the address of the other end, without its port

    std::string header(const std::string& name) const;
};

struct HttpAnswer {
    unsigned status = 200;
    std::string type = "application/json";
    /// Of an answer that is made for this request; `fixed` is used instead where it is empty.
    std::string body;
    /// Bytes that live as long as the program.
    std::string_view fixed;
    std::vector<std::pair<std::string, std::string>> headers;

    std::string_view bytes() const { return body.empty() ? fixed : std::string_view(body); }
};

/// An answer that is not at hand: `give` may be called on any thread, once.
using LaterAnswer = std::function<void(std::function<void(HttpAnswer)> give)>;

/// The connection is to become a live view of so many frames a second at most.
struct LiveView {
    int at_most_hz = 10;
    /// Whether whoever opened it is still logged in; empty where nobody has to be.
    std::function<bool()> goes_on;
};

/// What a request leads to.
using HttpOutcome = std::variant<HttpAnswer, LaterAnswer, LiveView>;

/// Problem details (RFC 9457): what is wrong, in a sentence for a person; `code` is for programs. `members`: more of
/// them, an object (3.2).
HttpAnswer problem(unsigned status, std::string_view code, std::string detail,
                   const nlohmann::json& members = nlohmann::json::object());

/// JSON as it is sent: bytes that are no UTF-8 are replaced, not thrown over.
std::string json_text(const nlohmann::json& value);
HttpAnswer json_answer(const nlohmann::json& value);

/// The words that belong to a status, for the first line of an answer and the title of a problem.
std::string_view reason_of(unsigned status);

} // namespace stillmark::gateway
