#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::metrology {

/// What is wrong with an expression: at which column (from 1), what was found, what would do.
struct ExpressionFault {
    std::size_t column = 1;
    std::string words;
};

enum class Operation : std::uint8_t {
    number,
    input,
    add,
    subtract,
    multiply,
    divide,
    power,
    plain_power,
    negate,
    sqrt,
    exp,
    log,
    log10,
    sin,
    cos,
    tan,
    asin,
    acos,
    atan,
    abs,
    min,
    max,
};

/// One step of an expression in postfix order.
struct ExpressionStep {
    Operation operation = Operation::number;
    std::size_t column = 1; ///< where it stands in the text
    double number = 0;      ///< of a number; of `plain_power`, the exponent
    std::size_t input = 0;  ///< of an input
};

/// A formula of named inputs: numbers, names, + - * / ^, unary minus, parentheses, the functions sqrt exp log (natural)
/// log10 sin cos tan asin acos atan abs min max pow, the constant pi. Angles in radians. ^ binds before unary minus and
/// from the right: -a^b^c is -(a^(b^c)). At most 10 000 characters and 200 levels of nesting.
class Expression {
  public:
    /// The expression over the inputs of these names, in their order; or nothing and `fault`.
    static std::optional<Expression> parse(std::string_view text, const std::vector<std::string>& inputs,
                                           ExpressionFault& fault);

    /// Whether this may name an input: a letter or _, then letters, digits and _; not a function and not pi. Letters of
    /// other alphabets are any bytes beyond ASCII.
    static bool is_name(std::string_view text);

    /// For value_of() in evaluate_expression.hpp.
    std::span<const ExpressionStep> steps() const { return steps_; }

    /// Which inputs the text names.
    std::vector<bool> used(std::size_t inputs) const;

    /// Where the value stops being a finite number although it was made of finite ones, such as a division by zero; or
    /// nothing.
    std::optional<ExpressionFault> fault_at(std::span<const double> inputs) const;

  private:
    std::vector<ExpressionStep> steps_;
};

} // namespace stillmark::metrology
