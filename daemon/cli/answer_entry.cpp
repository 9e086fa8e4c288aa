#include "daemon/cli/answer_entry.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

namespace stillmark::cli {

namespace {

constexpr std::size_t longest_value = 40;
constexpr std::size_t longest_reason = 200;

} // namespace

AnswerEntry::AnswerEntry(const Step& step, bool is_reason)
    : step_(step.number), is_reason_(is_reason), about_(step.check->name), channel_(step.check->channel),
      unit_(is_reason ? "" : step.check->unit) {}

AnswerEntry AnswerEntry::value(const Step& step) {
    return {step, false};
}

AnswerEntry AnswerEntry::reason(const Step& step) {
    return {step, true};
}

void AnswerEntry::type(char character) {
    // A value needs no comma but as the decimal one of the person's habit; reasons are text.
    if (!is_reason_ && character == ',') character = '.';
    if (!complete_ && typed_.size() < (is_reason_ ? longest_reason : longest_value)) typed_.push_back(character);
}

void AnswerEntry::erase() {
    if (!complete_ && !typed_.empty()) typed_.pop_back();
}

bool AnswerEntry::take() {
    if (std::all_of(typed_.begin(), typed_.end(), [](char one) { return one == ' '; })) return false;
    complete_ = true;
    return true;
}

bool AnswerEntry::has_unit() const {
    return std::any_of(typed_.begin(), typed_.end(),
                       [](char one) { return std::isalpha(static_cast<unsigned char>(one)) != 0; });
}

Json AnswerEntry::request() const {
    if (is_reason_) return {{"do", "go_on"}, {"step", step_}, {"reason", typed_}};
    Json asked{{"do", "check"}, {"step", step_}, {"value", has_unit() ? typed_ : typed_ + " " + unit_}};
    if (!channel_.empty()) asked["channel"] = channel_;
    return asked;
}

std::string AnswerEntry::what() const {
    if (is_reason_) return fmt::format("going on after the {} check", about_);
    return fmt::format("{}{}{}: {}", about_, channel_.empty() ? "" : " of ", channel_,
                       has_unit() ? typed_ : typed_ + " " + unit_);
}

std::string AnswerEntry::line() const {
    const char* cursor = complete_ ? "" : "_";
    if (is_reason_) return fmt::format("go on after the {} check, because: {}{}", about_, typed_, cursor);
    return fmt::format("{}{}{}: {}{}{}", about_, channel_.empty() ? "" : " of ", channel_, typed_, cursor,
                       has_unit() ? "" : " " + unit_);
}

} // namespace stillmark::cli
