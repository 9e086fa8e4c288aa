#include "daemon/bench/run_marks.hpp"

namespace stillmark::bench {

namespace {

std::size_t visit_of(const Mark& mark) {
    return static_cast<std::size_t>(mark.taken.visit);
}

/// A mark that counts by itself, without anybody's acceptance.
bool is_proven(const Mark& mark) {
    return mark.status == MarkStatus::sighted || mark.status == MarkStatus::vented;
}

} // namespace

RunMarks::RunMarks(const State& state, const Run& run, std::size_t channel) {
    for (const Mark& mark : state.marks) {
        if (mark.taken.run != run.id || static_cast<std::size_t>(mark.taken.channel) != channel) continue;
        marks_.push_back(&mark);
        if (!mark.counts()) continue;
        const Mark*& standing = standing_[visit_of(mark)];
        if (standing == nullptr || is_proven(mark) || !is_proven(*standing)) standing = &mark;
    }
}

const Mark* RunMarks::standing(std::size_t visit) const {
    const auto found = standing_.find(visit);
    return found == standing_.end() ? nullptr : found->second;
}

std::optional<std::int64_t> RunMarks::superseded_by(const Mark& mark) const {
    const Mark* other = mark.counts() ? standing(visit_of(mark)) : nullptr;
    if (other == nullptr || other->taken.mark == mark.taken.mark) return std::nullopt;
    return other->taken.mark;
}

} // namespace stillmark::bench
