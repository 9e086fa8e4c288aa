#include "daemon/metrology/loads/disc_moves.hpp"

#include <algorithm>

namespace stillmark::metrology {

std::vector<DiscMove> disc_moves(std::span<const std::size_t> from, std::span<const std::size_t> to) {
    const auto differ = std::mismatch(from.begin(), from.end(), to.begin(), to.end());
    const auto stays = static_cast<std::size_t>(differ.first - from.begin());
    std::vector<DiscMove> moves;
    moves.reserve(from.size() + to.size() - 2 * stays);
    for (std::size_t i = from.size(); i-- > stays;)
        moves.push_back({false, from[i]});
    for (std::size_t i = stays; i < to.size(); ++i)
        moves.push_back({true, to[i]});
    return moves;
}

} // namespace stillmark::metrology
