#pragma once

#include "daemon/people/sessions.hpp"
#include "daemon/people/throttle.hpp"
#include "daemon/people/users.hpp"

#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>

namespace stillmark::people {

/// What became of a log-in or of a change of the users, with a sentence for a person where it was not granted.
struct Answer {
    enum class Kind {
        done,
        wrong,        ///< name or password; which one is not told
        wait,         ///< too many wrong ones from there: try again after `wait_us`
        busy,         ///< too many passwords are being checked
        bad_request,  ///< a name, a password or a role that cannot be
        refused,      ///< it cannot be done now
        not_recorded, ///< the file could not be written; nothing changed
    } kind = Kind::done;
    std::string words;
    std::int64_t wait_us = 0;
    std::string token; ///< of the session that was opened
    Person person;     ///< whose it is
};
using Reply = std::function<void(const Answer&)>;

/// Where slow work is done: `on_pool` runs it on another thread, `back` brings what it found to the owner's thread.
struct Workers {
    std::function<void(std::function<void()>)> on_pool;
    std::function<void(std::function<void()>)> back;
};

/// Lets people in: users, sessions and the throttle together. Belongs to one thread; only passwords are hashed, and the
/// file is read and written, on the pool. Instants are microseconds of one clock that the caller reads.
///
/// A hash takes 32 MiB and a tenth of a second: at most 2 are under way at a time and 32 wait, of one address 4, so
/// that whoever floods waits for himself.
class Reception {
  public:
    static constexpr std::size_t most_at_once = 2;
    static constexpr std::size_t most_waiting = 32;
    static constexpr std::size_t most_of_an_address = 4;

    /// `users` is what the file at `path` holds. `tell` gets sentences for the log.
    Reception(std::string path, Users users, Workers workers, std::function<void(bool bad, const std::string&)> tell);
    Reception(const Reception&) = delete;
    Reception& operator=(const Reception&) = delete;

    /// `address` is where the attempt comes from, as the throttle tells places apart.
    void log_in(const std::string& name, const std::string& password, const std::string& address, std::int64_t now_us,
                Reply reply);
    void log_out(const Sessions::Key& session) { sessions_.close(session); }
    std::optional<Person> who(const Sessions::Key& session, std::int64_t now_us) const {
        return sessions_.who(session, now_us);
    }
    void used(const Sessions::Key& session, std::int64_t now_us) { sessions_.used(session, now_us); }

    const Users& users() const { return *users_; }
    // `by` is the administrator who asks, for the log; whether he may is the caller's question.
    void add(const Person& by, const std::string& name, const Roles& roles, const std::string& password,
             const std::string& address, Reply reply);
    void remove(const Person& by, const std::string& name, const std::string& address, Reply reply);
    void set_password(const Person& by, const std::string& name, const std::string& password,
                      const std::string& address, Reply reply);

    /// Called every second or two: takes up what `stillmark users` changed in the file meanwhile. A file that has
    /// become wrong changes nothing; that is told once.
    void look_at_file();

  private:
    /// Done on this thread with what the pool found.
    using Found = std::function<void(Reception&)>;
    struct Job {
        std::string address;
        std::function<Found()> work; ///< on the pool
    };
    using Change = std::function<std::optional<std::string>(Users&)>;

    bool take_up(Job job);
    void start_waiting();
    void on_pool(std::function<Found()> work);
    void checked(const std::string& name, const std::string& address, const std::string& against, bool right,
                 std::int64_t now_us, const Reply& reply);
    /// Hashes the password where there is one, changes the file, and says what became of it.
    void change(const std::string& told, const std::string& address, const std::string& password,
                std::function<Change(const std::string& hash)> change_by_hash, Reply reply);
    void take(Users users);

    std::string path_;
    std::shared_ptr<const Users> users_;
    Workers workers_;
    std::function<void(bool, const std::string&)> tell_;
    Sessions sessions_;
    Throttle throttle_;
    std::string nobody_;
    std::deque<Job> waiting_;
    std::size_t running_ = 0;
    std::map<std::string, std::size_t> of_address_; ///< jobs waiting and under way
    bool changing_ = false;
    bool looking_ = false;
    std::uint64_t changes_ = 0;
    std::string stamp_; ///< of the file when it was read last; empty where it must be read again
    std::string told_;  ///< the last trouble with the file
    /// Gone with this: what the pool finds later goes nowhere.
    std::shared_ptr<Reception*> self_;
};

} // namespace stillmark::people
