#pragma once

#include "daemon/cli/client.hpp"
#include "daemon/cli/follow_keys.hpp"

#include <map>
#include <optional>
#include <poll.h>
#include <string>
#include <vector>

namespace stillmark::cli {

/// The live view's two connections to the service: one that frames come on, one for what the keys ask. Lost
/// together and reopened together, forever; what was asked and not answered is told, never asked again.
class FollowWire {
  public:
    /// `by`, where not empty, goes into every request as the name of the person.
    FollowWire(std::string path, std::string by);

    /// What to poll for until the next turn.
    std::vector<pollfd> waiting() const;
    /// Connects where it is time to, reads and writes what can be now, and passes on what came.
    void turn(FollowState& state, Micros now_us);
    /// Sends the requests of one press: each when the one before it was accepted.
    void send(std::vector<Request> requests, Micros now_us);

  private:
    struct Asked {
        Request request;
        std::vector<Request> then;
        Micros sent_us;
    };

    void connect(FollowState& state, Micros now_us);
    void lose(FollowState& state, const Trouble& trouble, Micros now_us);
    std::optional<Trouble> read_frames(FollowState& state, Micros now_us);
    std::optional<Trouble> read_replies(FollowState& state, Micros now_us);

    std::string path_, by_;
    std::optional<LineSocket> frames_, commands_;
    std::map<std::int64_t, Asked> asked_;
    std::int64_t last_id_ = 0;
    Micros connected_us_ = 0;
    Micros next_attempt_us_ = 0;
    Micros pause_us_ = 0;
};

} // namespace stillmark::cli
