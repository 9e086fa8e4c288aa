#pragma once

#include "daemon/cli/checked_json.hpp"
#include "daemon/cli/line_socket.hpp"

namespace stillmark::cli {

/// A reply of the service. DEVELOPERS.md "The local socket".
struct Reply {
    bool ok = false;
    std::string error; ///< a sentence for a person, where not ok
    std::string code;  ///< bad_request, refused, contradicted or not_recorded, where not ok
    Json body;         ///< the whole reply, an object
};

/// What a message says as a reply, or why it is none.
Outcome<Reply> read_reply(const Json& message);

/// The `id` of the request that a message answers; nothing for a frame.
std::optional<std::int64_t> reply_to(const Json& message);

/// Asks one request at a time and waits for its reply.
class Client {
  public:
    static Outcome<Client> connect(const std::string& path);

    /// Sends the request, gives it an `id`, and returns its reply; other lines meanwhile are passed over. The whole
    /// exchange ends within `within_us` (over 0), with trouble where no reply came.
    Outcome<Reply> ask(Json request, Micros within_us);

  private:
    explicit Client(LineSocket socket) : socket_(std::move(socket)) {}

    LineSocket socket_;
    std::int64_t last_id_ = 0;
};

} // namespace stillmark::cli
