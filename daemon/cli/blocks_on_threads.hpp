#pragma once

#include <cstddef>
#include <functional>

namespace stillmark::cli {

/// A runner of numbered blocks for the calculation core: `threads` at once (at least one), each owned and joined by the
/// call. What a block throws is thrown by the call, once all have ended.
std::function<void(std::size_t count, const std::function<void(std::size_t)>& job)> on_threads(unsigned threads);

/// As many as the machine has cores; at least one.
unsigned all_cores();

} // namespace stillmark::cli
