#pragma once

#include "daemon/cli/frame.hpp"

#include <string>

namespace stillmark::cli {

/// One line being typed for a check before the run: the value that a person found, or why the run goes on without it.
class AnswerEntry {
  public:
    /// The value that the step's check asks for.
    static AnswerEntry value(const Step& step);
    /// Why to go on after a check that failed.
    static AnswerEntry reason(const Step& step);

    void type(char character);
    void erase();
    bool complete() const { return complete_; }
    /// Nothing may be typed any more until the service has answered; false where nothing was typed yet.
    bool take();
    void reopen() { complete_ = false; }

    /// The request that the line makes, without its instant.
    Json request() const;
    /// In words, for the reply.
    std::string what() const;
    /// The entry as one line, '_' where the next character goes.
    std::string line() const;

  private:
    AnswerEntry(const Step& step, bool is_reason);
    bool has_unit() const;

    std::int64_t step_;
    bool is_reason_;
    std::string about_, channel_, unit_, typed_;
    bool complete_ = false;
};

} // namespace stillmark::cli
