#include "daemon/journal/link_check.hpp"

#include <utility>

namespace stillmark::journal {

namespace {

constexpr std::size_t chunk_size = std::size_t{1} << 18U;
constexpr std::size_t most_full = 4;

} // namespace

LinkCheck::LinkCheck() : thread_([this] { work(); }) {}

LinkCheck::~LinkCheck() {
    if (!thread_.joinable()) return;
    {
        const std::lock_guard lock(mutex_);
        ending_ = true;
        full_.clear();
    }
    changed_.notify_all();
    thread_.join();
}

void LinkCheck::hand_over_if_large() {
    if (filling_.bytes.size() >= chunk_size) hand_over();
}

void LinkCheck::end(std::int64_t link, const seal::Digest& expected) {
    filling_.ends.push_back({filling_.bytes.size(), link, expected});
    hand_over_if_large();
}

void LinkCheck::hand_over() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return full_.size() < most_full; });
    full_.push_back(std::exchange(filling_, {}));
    if (!spare_.empty()) {
        filling_ = std::move(spare_.back());
        spare_.pop_back();
    }
    changed_.notify_all();
}

std::vector<std::int64_t> LinkCheck::differing() {
    hand_over();
    {
        const std::lock_guard lock(mutex_);
        ending_ = true;
    }
    changed_.notify_all();
    thread_.join();
    if (failure_) std::rethrow_exception(failure_);
    return std::move(differing_);
}

void LinkCheck::work() {
    try {
        seal::Sha256 sha;
        for (;;) {
            Chunk chunk;
            {
                std::unique_lock lock(mutex_);
                changed_.wait(lock, [this] { return ending_ || !full_.empty(); });
                if (full_.empty()) return;
                chunk = std::move(full_.front());
                full_.pop_front();
            }
            changed_.notify_all();
            digest(chunk, sha);
            chunk.bytes.clear();
            chunk.ends.clear();
            const std::lock_guard lock(mutex_);
            spare_.push_back(std::move(chunk));
        }
    } catch (...) {
        // No memory: whoever fills must not wait for ever.
        failure_ = std::current_exception();
        std::unique_lock lock(mutex_);
        while (!ending_) {
            full_.clear();
            changed_.notify_all();
            changed_.wait(lock, [this] { return ending_ || !full_.empty(); });
        }
    }
}

void LinkCheck::digest(const Chunk& chunk, seal::Sha256& sha) {
    std::size_t from = 0;
    const seal::BytesView bytes(chunk.bytes);
    for (const End& end : chunk.ends) {
        if (sha.add(bytes.subspan(from, end.at - from)).finish() != end.expected) differing_.push_back(end.link);
        from = end.at;
    }
    sha.add(bytes.subspan(from));
}

} // namespace stillmark::journal
