#pragma once

#include "daemon/journal/chain.hpp"

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace stillmark::journal {

/// Digests links on a thread of its own while their bytes are still being read, in bounded memory. Every link begins
/// with the stored digest of the one before, so that each is judged by itself.
class LinkCheck {
  public:
    LinkCheck();
    ~LinkCheck();
    LinkCheck(const LinkCheck&) = delete;
    LinkCheck& operator=(const LinkCheck&) = delete;

    /// Where the bytes of the present link go, at the end.
    std::vector<std::uint8_t>& bytes() { return filling_.bytes; }
    /// To be called now and then: what was filled so far may be digested.
    void hand_over_if_large();
    /// The present link is complete, and its digest should be this one.
    void end(std::int64_t link, const seal::Digest& expected);
    /// The links whose bytes give another digest than expected, in order; once, at the end.
    std::vector<std::int64_t> differing();

  private:
    struct End {
        std::size_t at;
        std::int64_t link;
        seal::Digest expected;
    };
    struct Chunk {
        std::vector<std::uint8_t> bytes;
        std::vector<End> ends;
    };
    void hand_over();
    void work();
    void digest(const Chunk& chunk, seal::Sha256& sha);

    Chunk filling_;
    std::vector<std::int64_t> differing_; // of the thread, until it has ended
    std::exception_ptr failure_;          // likewise

    std::mutex mutex_; // guards everything below
    std::condition_variable changed_;
    std::deque<Chunk> full_;
    std::vector<Chunk> spare_;
    bool ending_ = false;

    std::thread thread_;
};

} // namespace stillmark::journal
