#pragma once

#include <nlohmann/json.hpp>

#include <string>

namespace stillmark::gateway {

struct HttpCounts;

/// What a frame says and what the server counted, in the text format 0.0.4 of Prometheus. A pure function.
std::string metrics_text(const nlohmann::json& frame, const HttpCounts& counts);

} // namespace stillmark::gateway
