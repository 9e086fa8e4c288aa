#include "daemon/cli/client.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <poll.h>

namespace stillmark::cli {

Outcome<Reply> read_reply(const Json& message) {
    std::string objection;
    const Fields fields(message, "", objection);
    Reply reply{fields.flag("ok"), fields.text("error"), fields.text("code"), message};
    if (objection.empty() && !message.contains("ok")) objection = "ok: it is missing";
    if (!objection.empty()) return Trouble{fmt::format("the reply cannot be read: {}", objection)};
    if (!reply.ok && reply.error.empty()) reply.error = "the service refused and gave no reason";
    return reply;
}

std::optional<std::int64_t> reply_to(const Json& message) {
    std::string ignored;
    return Fields(message, "", ignored).whole("id");
}

Outcome<Client> Client::connect(const std::string& path) {
    auto socket = LineSocket::connect(path);
    if (!socket) return socket.error();
    return Client(std::move(*socket));
}

Outcome<Reply> Client::ask(Json request, Micros within_us) {
    const Micros deadline_us = protocols::now_us() + within_us;
    request["id"] = ++last_id_;
    if (const auto trouble = socket_.send(to_line(request))) return *trouble;
    for (Micros left_us = within_us; left_us > 0; left_us = deadline_us - protocols::now_us()) {
        pollfd waiting{socket_.descriptor(), static_cast<short>(socket_.wants_to_write() ? POLLIN | POLLOUT : POLLIN),
                       0};
        if (::poll(&waiting, 1, static_cast<int>((left_us + 999) / 1000)) < 0 && errno != EINTR) break;
        const auto trouble = socket_.pump();
        while (const auto line = socket_.take_line()) {
            const auto message = parse_line(*line);
            if (!message) return Trouble{"what came is not a line of JSON; this is no stillmarkd"};
            if (reply_to(*message) == last_id_) return read_reply(*message);
        }
        if (trouble) return *trouble;
    }
    return Trouble{fmt::format("no answer came within {:.1f} s", static_cast<double>(within_us) * 1e-6)};
}

} // namespace stillmark::cli
