#include "daemon/metrology/propagation/expression.hpp"

#include "daemon/metrology/propagation/evaluate_expression.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <numbers>
#include <utility>

namespace stillmark::metrology {

namespace {

constexpr std::size_t longest_text = 10'000;
constexpr std::size_t deepest_nesting = 200;

struct Function {
    std::string_view name;
    Operation operation;
    std::size_t arguments;
};
constexpr std::array<Function, 14> functions{{{"sqrt", Operation::sqrt, 1},
                                              {"exp", Operation::exp, 1},
                                              {"log", Operation::log, 1},
                                              {"log10", Operation::log10, 1},
                                              {"sin", Operation::sin, 1},
                                              {"cos", Operation::cos, 1},
                                              {"tan", Operation::tan, 1},
                                              {"asin", Operation::asin, 1},
                                              {"acos", Operation::acos, 1},
                                              {"atan", Operation::atan, 1},
                                              {"abs", Operation::abs, 1},
                                              {"min", Operation::min, 2},
                                              {"max", Operation::max, 2},
                                              {"pow", Operation::power, 2}}};
constexpr std::string_view function_names = "sqrt exp log log10 sin cos tan asin acos atan abs min max pow";

const Function* function_named(std::string_view name) {
    const auto* found =
        std::find_if(functions.begin(), functions.end(), [&](const Function& one) { return one.name == name; });
    return found == functions.end() ? nullptr : found;
}

// Without the locale that <cctype> would ask.
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
bool begins_name(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_' || static_cast<unsigned char>(c) >= 0x80;
}
bool goes_on_in_name(char c) {
    return begins_name(c) || is_digit(c);
}
bool is_space(char c) {
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

/// Recursive descent; the first fault ends it.
class Parser {
  public:
    Parser(std::string_view text, const std::vector<std::string>& inputs) : text_(text), inputs_(inputs) {}

    std::optional<std::vector<ExpressionStep>> parse(ExpressionFault& fault) {
        if (text_.size() > longest_text)
            object(0, "the expression is longer than " + std::to_string(longest_text) +
                          " characters; split it, naming parts of it as models of their own");
        sum();
        skip_space();
        if (!fault_ && at_ < text_.size()) object(at_, unexpected());
        if (fault_) {
            fault = *fault_;
            return std::nullopt;
        }
        return std::move(steps_);
    }

  private:
    /// One more level of nesting for as long as it lives.
    class Level {
      public:
        explicit Level(Parser& parser) : parser_(parser) {
            if (++parser_.nesting_ > deepest_nesting)
                parser_.object(parser_.at_, "nested deeper than " + std::to_string(deepest_nesting) +
                                                " levels; split the expression");
        }
        Level(const Level&) = delete;
        Level& operator=(const Level&) = delete;
        ~Level() { --parser_.nesting_; }

      private:
        Parser& parser_;
    };

    void sum() {
        const Level level(*this);
        product();
        while (!fault_) {
            const std::size_t place = skip_space();
            if (take('+')) {
                product();
                add(Operation::add, place);
            } else if (take('-')) {
                product();
                add(Operation::subtract, place);
            } else {
                return;
            }
        }
    }

    void product() {
        signed_power();
        while (!fault_) {
            const std::size_t place = skip_space();
            if (text_.substr(at_).starts_with("**")) return object(at_, "\"**\": a power is written with ^");
            if (take('*')) {
                signed_power();
                add(Operation::multiply, place);
            } else if (take('/')) {
                signed_power();
                add(Operation::divide, place);
            } else {
                return;
            }
        }
    }

    void signed_power() {
        const Level level(*this);
        if (fault_) return;
        const std::size_t place = skip_space();
        if (take('-')) {
            signed_power();
            add(Operation::negate, place);
        } else if (take('+')) {
            signed_power();
        } else {
            power();
        }
    }

    void power() {
        primary();
        const std::size_t place = skip_space();
        if (fault_ || !take('^')) return;
        const std::size_t begins = steps_.size();
        signed_power();
        if (!fault_) add_power(place, begins);
    }

    /// The power whose exponent is the steps from `begins` on. A plain number needs no logarithm, and so may stand over
    /// a base that is zero or negative.
    void add_power(std::size_t place, std::size_t begins) {
        const bool negated = steps_.size() == begins + 2 && steps_.back().operation == Operation::negate;
        if (steps_[begins].operation == Operation::number && (steps_.size() == begins + 1 || negated)) {
            const double exponent = negated ? -steps_[begins].number : steps_[begins].number;
            steps_.resize(begins);
            steps_.push_back({Operation::plain_power, column(place), exponent, 0});
        } else {
            add(Operation::power, place);
        }
    }

    void primary() {
        const std::size_t place = skip_space();
        if (at_ == text_.size()) return object(at_, "the expression ends where a number, a name or ( belongs");
        const char c = text_[at_];
        if (is_digit(c) || c == '.') return number();
        if (begins_name(c)) return name();
        if (!take('(')) return object(at_, unexpected());
        sum();
        skip_space();
        if (!fault_ && !take(')'))
            object(at_, at_ == text_.size() ? "the ( of column " + std::to_string(column(place)) + " is never closed"
                                            : unexpected());
    }

    void number() {
        const std::size_t place = at_;
        double value = 0;
        const char* const begin = text_.data() + at_;
        const auto [end, error] = std::from_chars(begin, text_.data() + text_.size(), value);
        if (error == std::errc::result_out_of_range) return object(place, "a number beyond what can be computed with");
        if (error != std::errc()) return object(place, unexpected());
        at_ += static_cast<std::size_t>(end - begin);
        if (at_ < text_.size() && begins_name(text_[at_]))
            return object(place, "a number runs into a name; write * between them");
        steps_.push_back({Operation::number, column(place), value, 0});
    }

    void name() {
        const std::size_t place = at_;
        while (at_ < text_.size() && goes_on_in_name(text_[at_]))
            ++at_;
        const std::string_view name = text_.substr(place, at_ - place);
        skip_space();
        const bool called = at_ < text_.size() && text_[at_] == '(';
        if (const Function* function = function_named(name)) {
            if (!called)
                return object(place, "the function " + std::string(name) + " wants its argument in parentheses");
            return call(*function, place);
        }
        const auto input = std::find(inputs_.begin(), inputs_.end(), name);
        if (called && (input != inputs_.end() || name == "pi"))
            return object(at_, "( after " + std::string(name) + ", which is no function; write * between them");
        if (called)
            return object(place, "there is no function \"" + std::string(name) + "\"; there are " +
                                     std::string(function_names));
        if (name == "pi") {
            steps_.push_back({Operation::number, column(place), std::numbers::pi, 0});
        } else if (input != inputs_.end()) {
            steps_.push_back({Operation::input, column(place), 0, static_cast<std::size_t>(input - inputs_.begin())});
        } else {
            object(place, "\"" + std::string(name) + "\" is no input; " + those_known());
        }
    }

    void call(const Function& function, std::size_t place) {
        take('(');
        const std::size_t first_argument = steps_.size();
        std::size_t second_argument = first_argument;
        for (std::size_t i = 0; i < function.arguments && !fault_; ++i) {
            if (i > 0) {
                skip_space();
                if (!take(',')) return object(at_, std::string(function.name) + " wants two arguments, with a comma");
                second_argument = steps_.size();
            }
            sum();
        }
        if (fault_) return;
        skip_space();
        if (at_ < text_.size() && text_[at_] == ',')
            return object(at_, std::string(function.name) + " wants " + std::to_string(function.arguments) +
                                   (function.arguments == 1 ? " argument" : " arguments"));
        if (!take(')'))
            return object(at_, at_ == text_.size()
                                   ? "the parenthesis of " + std::string(function.name) + " in column " +
                                         std::to_string(column(place)) + " is never closed"
                                   : unexpected());
        if (function.operation == Operation::power)
            add_power(place, second_argument);
        else
            add(function.operation, place);
    }

    void add(Operation operation, std::size_t place) {
        if (!fault_) steps_.push_back({operation, column(place), 0, 0});
    }

    std::size_t skip_space() {
        while (at_ < text_.size() && is_space(text_[at_]))
            ++at_;
        return at_;
    }
    bool take(char c) {
        if (at_ >= text_.size() || text_[at_] != c) return false;
        ++at_;
        return true;
    }
    /// Counted in characters: the bytes that continue one do not count.
    std::size_t column(std::size_t place) const {
        return 1 + static_cast<std::size_t>(
                       std::count_if(text_.begin(), text_.begin() + static_cast<std::ptrdiff_t>(place),
                                     [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
    }
    std::string unexpected() const {
        const char c = text_[at_];
        if (c < ' ' || c > '~') return "a character that means nothing here";
        return std::string("\"") + c + "\" stands where " +
               (steps_.empty() ? "a number, a name or ( belongs" : "it means nothing; operators are + - * / ^");
    }
    std::string those_known() const {
        if (inputs_.empty()) return "there are no inputs";
        std::string names;
        constexpr std::size_t shown = 12;
        for (std::size_t i = 0; i < std::min(shown, inputs_.size()); ++i)
            names += (i > 0 ? ", " : "") + inputs_[i];
        return "the inputs are " + names + (inputs_.size() > shown ? ", ..." : "");
    }
    void object(std::size_t place, std::string words) {
        if (!fault_) fault_ = ExpressionFault{column(std::min(place, text_.size())), std::move(words)};
    }

    std::string_view text_;
    const std::vector<std::string>& inputs_;
    std::size_t at_ = 0;
    std::size_t nesting_ = 0;
    std::vector<ExpressionStep> steps_;
    std::optional<ExpressionFault> fault_;
};

std::string what_went_wrong(Operation operation, double b) {
    switch (operation) {
    case Operation::divide:
        return b == 0 ? "division by zero" : "the quotient is too large";
    case Operation::sqrt:
        return "the square root of a negative number";
    case Operation::log:
    case Operation::log10:
        return "the logarithm of a number that is not positive";
    case Operation::asin:
    case Operation::acos:
        return "the arc of a number outside -1 to 1";
    case Operation::power:
    case Operation::plain_power:
        return "a power that is no finite number";
    default:
        return "the value is no finite number";
    }
}

} // namespace

std::optional<Expression> Expression::parse(std::string_view text, const std::vector<std::string>& inputs,
                                            ExpressionFault& fault) {
    auto steps = Parser(text, inputs).parse(fault);
    if (!steps) return std::nullopt;
    Expression out;
    out.steps_ = std::move(*steps);
    return out;
}

bool Expression::is_name(std::string_view text) {
    return !text.empty() && begins_name(text.front()) && std::all_of(text.begin(), text.end(), goes_on_in_name) &&
           function_named(text) == nullptr && text != "pi";
}

std::vector<bool> Expression::used(std::size_t inputs) const {
    std::vector<bool> out(inputs, false);
    for (const ExpressionStep& step : steps_)
        if (step.operation == Operation::input) out[step.input] = true;
    return out;
}

std::optional<ExpressionFault> Expression::fault_at(std::span<const double> inputs) const {
    std::vector<double> stack;
    for (const ExpressionStep& step : steps_) {
        if (step.operation == Operation::number || step.operation == Operation::input) {
            stack.push_back(step.operation == Operation::number ? step.number : inputs[step.input]);
            continue;
        }
        const double second = stack.back();
        if (takes_two(step.operation)) stack.pop_back();
        stack.back() = apply(step, stack.back(), second);
        if (!std::isfinite(stack.back())) return ExpressionFault{step.column, what_went_wrong(step.operation, second)};
    }
    return std::nullopt;
}

} // namespace stillmark::metrology
