// SPDX-License-Identifier: Apache-2.0
// What is worked out from readings, as a technician writes it: `level_after - level_before`, `mean of a, b and c`,
// `largest of a and b / target`. Names, quantities with their units, + - * / with the usual precedence and a space on
// both sides, parentheses, and the words `mean of`, `largest of`, `smallest of` (a list: commas, `and` before its
// last), `difference of A and B`, `ratio of A and B`. What stands in a list is a name, a quantity or a pair of
// parentheses. Dimensions are checked when it is read. Uncertainties combine source by source
// (core/metrology/derived.hpp). Not for comparisons: condition.hpp. Immutable; any thread.
#pragma once

#include <cstddef>
#include <functional>
#include <initializer_list>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/metrology/reading.hpp"
#include "core/quantity/dimension.hpp"
#include "core/quantity/text.hpp"

namespace eyelevel::sequence {

// What names stand for while a text is read. They are looked up, not copied: a long sequence has thousands.
class NamedDimensions {
 public:
  using Find = std::function<std::optional<quantity::Dimension>(std::string_view name)>;
  using All = std::function<std::vector<std::string>()>;  // for advice

  NamedDimensions(Find find, All all) : find_(std::move(find)), all_(std::move(all)) {}
  NamedDimensions(std::initializer_list<std::pair<const std::string, quantity::Dimension>> few);

  std::optional<quantity::Dimension> find(std::string_view name) const { return find_(name); }
  std::vector<std::string> all() const { return all_(); }

 private:
  Find find_;
  All all_;
};

// What it is worth while the sequence runs. Nothing made from a value that cannot pass can pass.
struct Value {
  metrology::Reading reading;
  bool can_pass = true;
};
using ValueOf = std::function<Value(const std::string& name)>;

class Expression {
 public:
  struct Node;

  explicit Expression(std::shared_ptr<const Node> root) : root_(std::move(root)) {}

  quantity::Dimension dimension() const;
  // Each name once, in the order of the text.
  std::vector<std::string> names() const;
  // Throws Error(bad_input) for a division by zero and for what is no finite number, naming the part of the text.
  Value value(const ValueOf& of) const;

 private:
  std::shared_ptr<const Node> root_;
};

inline constexpr std::size_t expression_bytes_most = 1000;

// From `offset` on; the text may go on with what no expression continues with. Linear in the text's length.
quantity::Parsed<quantity::Scanned<Expression>> scan_expression(std::string_view text, const NamedDimensions& names,
                                                                std::size_t offset = 0);
// The whole text.
quantity::Parsed<Expression> parse_expression(std::string_view text, const NamedDimensions& names);

}  // namespace eyelevel::sequence
