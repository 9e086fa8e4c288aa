#pragma once

#include "daemon/gateway/http_message.hpp"
#include "daemon/people/reception.hpp"
#include "protocols/instant.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::gateway {

/// The reception as browsers meet it: a cookie for a session, and answers of HTTP. On the gateway's thread.
class LogIn {
  public:
    using Tell = std::function<void(bool bad, const std::string& words)>;

    /// `users` is what `file` holds. Cookies do not tell ports apart, so that their name must: two benches may be
    /// served from one machine.
    LogIn(std::string file, people::Users users, people::Workers workers, Tell tell, unsigned port, bool tls);

    /// Who asks, or nobody.
    std::optional<people::Person> who(const HttpRequest& request) const;
    /// Why this may not be done, or nothing. `what` is a command of the local socket, or the word of a route; `page`
    /// and `session` are for everybody. What is done, and not only looked at, is a use of the session.
    std::optional<HttpAnswer> objection_to(const HttpRequest& request, const std::string& what);
    /// Whether the session of this request goes on, to be asked again and again.
    std::function<bool()> goes_on(const HttpRequest& request) const;

    HttpOutcome session(const HttpRequest& request);
    HttpOutcome log_in(const HttpRequest& request);
    HttpOutcome log_out(const HttpRequest& request);

    HttpOutcome users(const HttpRequest& request);
    HttpOutcome add_user(const HttpRequest& request);
    HttpOutcome remove_user(const HttpRequest& request);
    HttpOutcome set_password(const HttpRequest& request);

    /// Called a few times a second.
    void check(Micros now_us);

  private:
    std::vector<people::Sessions::Key> keys_of(const HttpRequest& request) const;
    std::string cookie(const std::string& token, std::int64_t age_s) const;

    std::string cookie_name_;
    bool tls_;
    Micros looked_us_ = 0;
    people::Reception reception_;
};

/// Where an attempt comes from, as the throttle tells places apart: an address, of IPv6 its first 64 bits, because a
/// machine may take any of the others for itself (RFC 4291, 2.5.1, and RFC 8981).
std::string place_of(const std::string& address);

/// The answer that tells what became of a log-in or a change.
HttpAnswer answer_of(const people::Answer& said);

/// What a page is told where the service knows no users.
HttpAnswer no_log_in();

} // namespace stillmark::gateway
