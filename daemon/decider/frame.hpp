#pragma once

#include "daemon/decider/decider.hpp"

#include <nlohmann/json.hpp>

#include <string>

namespace stillmark::decider {

/// What a live view shows, as DEVELOPERS.md "The local socket" words it. Only on the deciding thread, and only while
/// everything decided is on disk.
nlohmann::json frame(const Decider& decider);

/// The marks of a run, with the run itself; null where there is no such run. The latest run where `run` is empty.
nlohmann::json results(const bench::State& state, const std::string& run);
/// A finding in spite of which a reviewer lets certificates of a run be signed.
nlohmann::json override_json(const bench::GateOverridden& one);

/// What was stated of the balance's health, oldest first, each judged against what went before it.
nlohmann::json health_list(const bench::State& state);

/// Every run, oldest first.
nlohmann::json run_list(const bench::State& state);

/// One mark of a run as results give it.
nlohmann::json mark_json(const bench::State& state, const bench::Mark& mark, const bench::Run& run);

} // namespace stillmark::decider
