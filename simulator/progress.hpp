#pragma once

#include "simulator/instant.hpp"

#include <nlohmann/json.hpp>

#include <map>
#include <set>
#include <string>

namespace stillmark::simulator {

/// Tells a watching person in plain lines how the run goes, from the service's frames.
class Progress {
  public:
    explicit Progress(bool shown) : shown_(shown), began_us_(now_us()) {}
    void frame(const nlohmann::json& frame);
    void say(const std::string& words); ///< one line, with the time since the start

  private:
    void marks(const nlohmann::json& frame);
    bool shown_;
    Micros began_us_;
    std::string last_title_;
    std::string last_float_;
    std::string last_journal_;
    std::map<long, std::string> marks_;
    std::set<std::string> advice_;
};

/// A pressure in bar with three decimals, for people.
std::string bar_text(double pressure_pa);

} // namespace stillmark::simulator
