#include "daemon/cli/blocks_on_threads.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace stillmark::cli {

std::function<void(std::size_t, const std::function<void(std::size_t)>&)> on_threads(unsigned threads) {
    return [threads](std::size_t count, const std::function<void(std::size_t)>& job) {
        std::atomic<std::size_t> next{0};
        std::exception_ptr trouble;
        std::mutex trouble_taken;
        const auto work = [&next, &job, &trouble, &trouble_taken, count] {
            for (std::size_t i = next++; i < count; i = next++) {
                try {
                    job(i);
                } catch (...) {
                    const std::lock_guard lock(trouble_taken);
                    if (!trouble) trouble = std::current_exception();
                    next = count;
                }
            }
        };
        {
            std::vector<std::jthread> others;
            for (std::size_t i = 1; i < std::min<std::size_t>(threads, count); ++i)
                others.emplace_back(work);
            work();
        }
        if (trouble) std::rethrow_exception(trouble);
    };
}

unsigned all_cores() {
    return std::max(1U, std::thread::hardware_concurrency());
}

} // namespace stillmark::cli
