#include "daemon/people/reception.hpp"

#include "daemon/people/names.hpp"
#include "daemon/people/password_hash.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <utility>

namespace stillmark::people {

namespace {

/// 256 characters of UTF-8.
constexpr std::size_t longest_password_bytes = 1024;

Answer answer(Answer::Kind kind, std::string words) {
    Answer said;
    said.kind = kind;
    said.words = std::move(words);
    return said;
}

Answer busy() {
    return answer(Answer::Kind::busy, "many passwords are being checked just now; try again in a few seconds");
}

} // namespace

Reception::Reception(std::string path, Users users, Workers workers,
                     std::function<void(bool bad, const std::string&)> tell)
    : path_(std::move(path)), users_(std::make_shared<const Users>(std::move(users))), workers_(std::move(workers)),
      tell_(std::move(tell)), nobody_(hash_of_nobody()), self_(std::make_shared<Reception*>(this)) {}

void Reception::log_in(const std::string& given_name, const std::string& password, const std::string& address,
                       std::int64_t now_us, Reply reply) {
    const std::string name = trimmed(given_name);
    if (const auto wrong = objection_to_name(name)) return reply(answer(Answer::Kind::bad_request, *wrong));
    if (password.size() > longest_password_bytes)
        return reply(
            answer(Answer::Kind::bad_request, fmt::format("a password has at most {} characters", longest_password)));
    if (const auto wait_us = throttle_.take(name, address, now_us); wait_us > 0) {
        auto said = answer(Answer::Kind::wait,
                           fmt::format("too many wrong passwords for this name from here; try again in {} s",
                                       (wait_us + 999'999) / 1'000'000));
        said.wait_us = wait_us;
        return reply(said);
    }
    const User* user = users_->find(name);
    // A name that nobody has is checked against a hash as well, so that the time does not tell who is known.
    const std::string against = user != nullptr ? user->password_hash : nobody_;
    const auto secret = std::make_shared<std::string>(password);
    const bool taken = take_up({address, [name, secret, address, against, now_us, reply]() -> Found {
                                    const bool right = fits(against, *secret);
                                    wipe(*secret);
                                    return [name, address, against, right, now_us, reply](Reception& self) {
                                        self.checked(name, address, against, right, now_us, reply);
                                    };
                                }});
    if (taken) return;
    throttle_.not_checked(name, address);
    reply(busy());
}

void Reception::checked(const std::string& name, const std::string& address, const std::string& against, bool right,
                        std::int64_t now_us, const Reply& reply) {
    const User* user = users_->find(name);
    // Who was removed, or got another password, while this one was checked does not come in by it.
    if (!right || user == nullptr || user->password_hash != against) {
        tell_(true, fmt::format("log-in refused: \"{}\" from {}", name, address));
        return reply(answer(Answer::Kind::wrong, "the name or the password is wrong"));
    }
    throttle_.right(name, address);
    Answer said;
    said.person = {user->name, user->roles};
    const auto token = sessions_.open(said.person, now_us);
    if (!token)
        return reply(answer(Answer::Kind::not_recorded, "no session could be made: the system has no random bytes"));
    said.token = *token;
    tell_(false, fmt::format("log-in: {} from {}", name, address));
    reply(said);
}

void Reception::add(const Person& by, const std::string& given_name, const Roles& roles, const std::string& password,
                    const std::string& address, Reply reply) {
    const std::string name = trimmed(given_name);
    for (const auto& wrong : {objection_to_name(name), objection_to_password(name, password)}) {
        if (wrong) return reply(answer(Answer::Kind::bad_request, *wrong));
    }
    change(
        fmt::format("{} added \"{}\" ({})", by.name, name, fmt::join(words(roles), ", ")), address, password,
        [name, roles](const std::string& hash) -> Change {
            return [name, roles, hash](Users& users) { return add_user(users, {name, roles, hash}); };
        },
        std::move(reply));
}

void Reception::remove(const Person& by, const std::string& given_name, const std::string& address, Reply reply) {
    const std::string name = trimmed(given_name);
    change(
        fmt::format("{} removed \"{}\"", by.name, name), address, "",
        [name](const std::string&) -> Change { return [name](Users& users) { return remove_user(users, name); }; },
        std::move(reply));
}

void Reception::set_password(const Person& by, const std::string& given_name, const std::string& password,
                             const std::string& address, Reply reply) {
    const std::string name = trimmed(given_name);
    if (const auto wrong = objection_to_password(name, password))
        return reply(answer(Answer::Kind::bad_request, *wrong));
    change(
        fmt::format("{} set the password of \"{}\"", by.name, name), address, password,
        [name](const std::string& hash) -> Change {
            return [name, hash](Users& users) { return people::set_password(users, name, hash); };
        },
        std::move(reply));
}

void Reception::change(const std::string& told, const std::string& address, const std::string& password,
                       std::function<Change(const std::string& hash)> change_by_hash, Reply reply) {
    if (changing_)
        return reply(answer(Answer::Kind::busy, "somebody else is changing the list of people; try again in a second"));
    // Before the work begins: a pool may be done with it at once.
    changing_ = true;
    ++changes_;
    const auto secret = std::make_shared<std::string>(password);
    const bool taken = take_up(
        {address, [path = path_, secret, told, change_by_hash, reply]() -> Found {
             std::optional<std::string> hash = std::string();
             if (!secret->empty()) hash = new_password_hash(*secret);
             wipe(*secret);
             const auto outcome = hash ? change_users(path, false, change_by_hash(*hash))
                                       : UsersResult<Users>(UsersTrouble{UsersTrouble::Kind::file,
                                                                         "the password could not be hashed: the "
                                                                         "system has no memory or random bytes"});
             return [outcome, told, reply](Reception& self) {
                 self.changing_ = false;
                 if (outcome) {
                     self.tell_(false, told);
                     self.take(*outcome);
                     return reply(Answer{});
                 }
                 const bool refused = outcome.error().kind == UsersTrouble::Kind::refused;
                 if (!refused) self.tell_(true, outcome.error().message);
                 reply(answer(refused ? Answer::Kind::refused : Answer::Kind::not_recorded, outcome.error().message));
             };
         }});
    if (taken) return;
    changing_ = false;
    reply(busy());
}

void Reception::take(Users users) {
    const auto before = std::exchange(users_, std::make_shared<const Users>(std::move(users)));
    for (const auto& user : before->list) {
        const User* now = users_->find(user.name);
        if (now == nullptr || *now != user) sessions_.close_all_of(user.name);
    }
    stamp_.clear();
}

void Reception::look_at_file() {
    if (looking_ || changing_) return;
    looking_ = true;
    on_pool([path = path_, stamp = stamp_, changes = changes_]() -> Found {
        // Stamped before it is read: what is written in between is seen the next time.
        const std::string now = users_stamp(path);
        if (!now.empty() && now == stamp) return [](Reception& self) { self.looking_ = false; };
        const auto found = load_users(path);
        return [now, found, changes](Reception& self) {
            self.looking_ = false;
            if (self.changes_ != changes) return; // older than what was changed here meanwhile
            if (!found) {
                if (self.told_ != found.error().message)
                    self.tell_(true, found.error().message + "; the people known until now stay");
                self.told_ = found.error().message;
                return;
            }
            self.told_.clear();
            if (*found != *self.users_) self.take(*found);
            self.stamp_ = now;
        };
    });
}

bool Reception::take_up(Job job) {
    std::size_t& of_address = of_address_[job.address];
    if (waiting_.size() >= most_waiting || of_address >= most_of_an_address) {
        if (of_address == 0) of_address_.erase(job.address);
        return false;
    }
    ++of_address;
    waiting_.push_back(std::move(job));
    start_waiting();
    return true;
}

void Reception::start_waiting() {
    while (running_ < most_at_once && !waiting_.empty()) {
        Job job = std::move(waiting_.front());
        waiting_.pop_front();
        ++running_;
        on_pool([address = job.address, work = std::move(job.work)]() -> Found {
            return [address, found = work()](Reception& self) {
                --self.running_;
                if (--self.of_address_[address] == 0) self.of_address_.erase(address);
                self.start_waiting();
                found(self);
            };
        });
    }
}

void Reception::on_pool(std::function<Found()> work) {
    workers_.on_pool([work = std::move(work), back = workers_.back, weak = std::weak_ptr<Reception*>(self_)] {
        back([found = work(), weak] {
            if (const auto self = weak.lock()) found(**self);
        });
    });
}

} // namespace stillmark::people
