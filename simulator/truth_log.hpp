#pragma once

#include "simulator/rig.hpp"

#include <condition_variable>
#include <fstream>
#include <thread>

namespace stillmark::simulator {

/// Writes the truth of all times, every 20 ms, as comma-separated values: instant (us of CLOCK_BOOTTIME), gauge
/// pressure at the balance's level mark, range, state and height of its piston, whether it is in its band, its turning,
/// the press, then for each instrument the pressure at its own level and its true settled indication. All pressures Pa.
class TruthLog {
  public:
    TruthLog(Rig& rig, const std::string& path); ///< throws Mistake
    ~TruthLog();
    TruthLog(const TruthLog&) = delete;
    TruthLog& operator=(const TruthLog&) = delete;

  private:
    void write_row();
    Rig& rig_;
    std::ofstream file_;
    std::mutex mutex_;
    std::condition_variable_any woken_;
    std::jthread thread_;
};

} // namespace stillmark::simulator
