// The instant of a poll against its schedule: 64 buses at 10 Hz, our bus threads beside 64 bare threads that sleep with
// clock_nanosleep to the same instants. In turn, A B A B. And the CPU time of both.
#include "daemon/acquisition/bus_thread.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <memory>
#include <sys/prctl.h>
#include <thread>
#include <time.h>
#include <vector>

namespace {

using namespace stillmark;
using namespace stillmark::acquisition;

constexpr std::size_t buses = 64;
constexpr Micros period_us = 100'000;
constexpr int polls_of_a_turn = 40;

double cpu_s() {
    timespec now{};
    ::clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

Micros precise_late_us(Micros phase_us) {
    return (protocols::now_us() - phase_us) % period_us;
}

/// An instrument that answers at once and notes how late it was asked.
class Noting : public drivers::Driver {
  public:
    Noting(Micros phase_us, std::vector<double>& late_us, std::atomic<int>& done)
        : phase_us_(phase_us), late_us_(late_us), done_(done) {}
    drivers::DriverReading read() override {
        const auto late_us = static_cast<double>(precise_late_us(phase_us_));
        if (late_us_.size() < polls_of_a_turn) {
            late_us_.push_back(late_us);
            if (late_us_.size() == polls_of_a_turn) ++done_;
        }
        return {1e5, protocols::now_us(), 1, drivers::ReadingStatus::good, {}};
    }

  private:
    Micros phase_us_;
    std::vector<double>& late_us_;
    std::atomic<int>& done_;
};

struct Turn {
    double p50_us, p99_us, cpu_share;
};

Turn judged(const std::vector<std::vector<double>>& late_us, double cpu) {
    std::vector<double> all;
    for (const auto& of_one : late_us)
        all.insert(all.end(), of_one.begin(), of_one.end());
    std::sort(all.begin(), all.end());
    const auto at = [&](double share) {
        return all[static_cast<std::size_t>(share * static_cast<double>(all.size() - 1))];
    };
    return {at(0.5), at(0.99), cpu / (polls_of_a_turn * 1e-6 * static_cast<double>(period_us))};
}

Turn ours() {
    std::vector<std::vector<double>> late_us(buses);
    std::atomic<int> done = 0;
    const double begin = cpu_s();
    {
        std::vector<std::unique_ptr<BusThread>> threads;
        const std::vector<Micros> phases = spread_phases(buses, period_us);
        for (std::size_t i = 0; i < buses; ++i) {
            BusPlan plan;
            plan.name = fmt::format("bus {}", i);
            plan.phase_us = phases[i];
            plan.channels.push_back(
                {static_cast<std::uint32_t>(i), period_us, std::make_unique<Noting>(phases[i], late_us[i], done)});
            threads.push_back(std::make_unique<BusThread>(
                std::move(plan), BusSinks{[](const Reading&) {}, [](const std::string&, bool) {}}));
        }
        for (int waited = 0; done < static_cast<int>(buses) && waited < 600; ++waited)
            std::this_thread::sleep_for(std::chrono::milliseconds(50));
        for (const auto& thread : threads)
            thread->ask_to_stop();
    }
    return judged(late_us, cpu_s() - begin);
}

Turn bare() {
    std::vector<std::vector<double>> late_us(buses);
    const double begin = cpu_s();
    {
        std::vector<std::jthread> threads;
        const std::vector<Micros> phases = spread_phases(buses, period_us);
        for (std::size_t i = 0; i < buses; ++i)
            threads.emplace_back([&late = late_us[i], phase_us = phases[i]] {
                prctl(PR_SET_TIMERSLACK, 1UL, 0UL, 0UL, 0UL);
                Micros due_us = (protocols::now_us() / period_us + 1) * period_us + phase_us;
                for (int poll = 0; poll < polls_of_a_turn; ++poll, due_us += period_us) {
                    const timespec at{due_us / 1'000'000, due_us % 1'000'000 * 1000};
                    while (clock_nanosleep(CLOCK_BOOTTIME, TIMER_ABSTIME, &at, nullptr) != 0) {
                    }
                    late.push_back(static_cast<double>(precise_late_us(phase_us)));
                }
            });
    }
    return judged(late_us, cpu_s() - begin);
}

double median(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    return values[values.size() / 2];
}

} // namespace

int main() {
    std::vector<double> our_p50, our_p99, our_cpu, bare_p50, bare_p99, bare_cpu;
    for (int turn = 0; turn < 5; ++turn) {
        const Turn a = ours();
        const Turn b = bare();
        our_p50.push_back(a.p50_us);
        our_p99.push_back(a.p99_us);
        our_cpu.push_back(a.cpu_share);
        bare_p50.push_back(b.p50_us);
        bare_p99.push_back(b.p99_us);
        bare_cpu.push_back(b.cpu_share);
    }
    fmt::print(
        "Poll instant against schedule, {} buses at 10 Hz, 5 turns each, medians (goal: p99 <= 2 times the bare loop)\n"
        "  ours         p50 {:.0f} us, p99 {:.0f} us, CPU {:.2f} % of a core\n"
        "  bare sleeps  p50 {:.0f} us, p99 {:.0f} us, CPU {:.2f} % of a core\n"
        "  ratio of p99 {:.2f}, of CPU {:.2f}\n",
        buses, median(our_p50), median(our_p99), 100 * median(our_cpu), median(bare_p50), median(bare_p99),
        100 * median(bare_cpu), median(our_p99) / median(bare_p99), median(our_cpu) / median(bare_cpu));
}
