// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/expression/expression.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdlib>
#include <map>
#include <optional>
#include <utility>

#include "core/base/error.hpp"
#include "core/metrology/derived.hpp"
#include "core/quantity/unit.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

using quantity::Dimension;
using quantity::TextError;

enum class Operation { constant, name, sum, difference, product, ratio, mean, largest, smallest };

struct Expression::Node {
  Operation operation = Operation::constant;
  Dimension dimension;
  double si = 0;     // of a constant
  std::string text;  // as it was written
  std::vector<std::shared_ptr<const Node>> of;
};

namespace {

using Node = Expression::Node;
using Tree = std::shared_ptr<const Node>;

constexpr int depth_most = 32;
constexpr int exponent_most = 9;  // of a unit; what a bench measures stays below

bool is_space(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

bool is_sane(Dimension d) {
  const auto small = [](std::int8_t exponent) { return std::abs(int{exponent}) <= exponent_most; };
  return small(d.volt) && small(d.ampere) && small(d.second) && small(d.kelvin) && small(d.degree) && small(d.sample);
}

class Parser {
 public:
  Parser(std::string_view text, const NamedDimensions& names, std::size_t at) : text_(text), names_(names), at_(at) {}

  Tree sum() {
    Tree left = product();
    while (left) {
      const auto sign = operator_here("+-");
      if (!sign) break;
      const std::size_t at = at_;
      step_over(1);
      const Tree right = product();
      if (!right) return nullptr;
      left = joined(*sign == '+' ? Operation::sum : Operation::difference, {left, right}, at);
    }
    return left;
  }

  std::size_t at() const { return at_; }
  const TextError& error() const { return error_; }

 private:
  Tree product() {
    Tree left = value();
    while (left) {
      const auto sign = operator_here("*/");
      if (!sign) break;
      const std::size_t at = at_;
      step_over(1);
      const Tree right = value();
      if (!right) return nullptr;
      left = joined(*sign == '*' ? Operation::product : Operation::ratio, {left, right}, at);
    }
    return left;
  }

  // A function, a name, a quantity, or a pair of parentheses.
  Tree value() {
    skip_space();
    if (const auto many = list_function()) {
      std::vector<Tree> of;
      return list(of) ? joined(*many, std::move(of), begun_) : nullptr;
    }
    if (const auto two = pair_function()) {
      const std::size_t at = begun_;
      Tree a = single();
      if (!a) return nullptr;
      if (!takes("and")) return fail(at_, "expected `and` and a second value", "write `difference of A and B`");
      Tree b = single();
      return b ? joined(*two, {std::move(a), std::move(b)}, at) : nullptr;
    }
    return single();
  }

  std::optional<Operation> list_function() {
    begun_ = at_;
    if (takes("mean of")) return Operation::mean;
    if (takes("largest of")) return Operation::largest;
    if (takes("smallest of")) return Operation::smallest;
    return std::nullopt;
  }

  std::optional<Operation> pair_function() {
    begun_ = at_;
    if (takes("difference of")) return Operation::difference;
    if (takes("ratio of")) return Operation::ratio;
    return std::nullopt;
  }

  // `A`, `A and B`, `A, B and C`: an `and` ends the list, so that a condition may go on with another one.
  bool list(std::vector<Tree>& of) {
    for (bool is_last = false;;) {
      Tree one = single();
      if (!one) return false;
      of.push_back(std::move(one));
      if (is_last) return true;
      if (takes(",")) continue;
      if (!takes("and")) return true;
      is_last = true;
    }
  }

  Tree single() {
    skip_space();
    if (at_ >= text_.size()) return fail(at_, "a value is missing at the end", "write a name or a quantity there");
    if (text_[at_] == '(') return in_parentheses();
    const std::string_view word = word_here();
    if (const auto known = names_.find(word)) {
      step_over(word.size());
      return std::make_shared<Node>(Node{Operation::name, *known, 0, std::string(word), {}});
    }
    const auto first = static_cast<unsigned char>(text_[at_]);
    if (std::isdigit(first) != 0 || (word.size() > 1 && (first == '-' || first == '.'))) return constant();
    return unknown(word);
  }

  Tree in_parentheses() {
    const std::size_t at = at_;
    if (++depth_ > depth_most) return fail(at, "more parentheses in each other than anybody can read", {});
    step_over(1);
    Tree inside = sum();
    --depth_;
    if (!inside) return nullptr;
    if (at_ >= text_.size() || text_[at_] != ')') return fail(at, "this parenthesis is not closed", "write `)`");
    step_over(1);
    return inside;
  }

  Tree constant() {
    const auto scanned = quantity::scan_quantity(text_, at_);
    if (!scanned) {
      error_ = scanned.error();
      return nullptr;
    }
    const std::size_t end = scanned->end;
    if (scanned->value.dimension == quantity::ratio && !continues(end)) {
      // A word behind a number is a unit that is none.
      std::size_t word_end = end;
      while (word_end < text_.size() && !is_space(text_[word_end])) ++word_end;
      if (const auto whole = quantity::parse_quantity(text_.substr(at_, word_end - at_)); !whole)
        return fail(at_ + whole.error().offset, whole.error().message, whole.error().suggestion);
    }
    std::string written(text_.substr(at_, end - at_));
    while (!written.empty() && is_space(written.back())) written.pop_back();
    at_ = end;
    return std::make_shared<Node>(
        Node{Operation::constant, scanned->value.dimension, scanned->value.si, std::move(written), {}});
  }

  // Whether what stands here may follow a value.
  bool continues(std::size_t at) const {
    const std::string_view rest = text_.substr(at);
    if (rest.empty() || rest.front() == ',' || rest.front() == ')') return true;
    const std::string_view word = quantity::word_at(rest);
    constexpr std::string_view known[] = {"+", "-", "*", "/", "and", "or", "is", "meets"};
    return std::find(std::begin(known), std::end(known), word) != std::end(known);
  }

  Tree unknown(std::string_view word) {
    if (word.empty())
      return fail(at_, fmt::format("a value is missing before '{}'", text_[at_]), "write a name or a quantity");
    if (word.size() == 1 && std::string_view("+-*/").find(word) != std::string_view::npos)
      return fail(at_, fmt::format("a value is missing before '{}'", word), "write a name or a quantity there");
    if (const auto sign = word.find_first_of("+*/-");
        sign != std::string_view::npos && names_.find(word.substr(0, sign)))
      return fail(at_, fmt::format("unknown name '{}'", word), fmt::format("write spaces around '{}'", word[sign]));
    const std::vector<std::string> known = names_.all();
    if (known.empty())
      return fail(at_, fmt::format("unknown name '{}'", word), "name a reading with `name it` in an earlier step");
    const auto near = yaml::nearest(word, known);
    return fail(at_, fmt::format("unknown name '{}'", word),
                near ? fmt::format("did you mean '{}'?", *near) : fmt::format("write {}", yaml::one_of(known)));
  }

  // What an operation makes of its operands, if it may.
  Tree joined(Operation operation, std::vector<Tree> of, std::size_t at) {
    Node node{operation, of.front()->dimension, 0, {}, std::move(of)};
    if (operation == Operation::product || operation == Operation::ratio) {
      const Dimension a = node.of[0]->dimension, b = node.of[1]->dimension;
      node.dimension = operation == Operation::product ? a * b : a / b;
      if (!is_sane(node.dimension)) return fail(at, "no quantity has such a unit", "leave out factors");
      const Node& divisor = *node.of[1];
      if (operation == Operation::ratio && divisor.operation == Operation::constant && divisor.si == 0)
        return fail(at, "nothing can be divided by zero", "divide by something else");
    } else {
      for (const Tree& one : node.of) {
        if (one->dimension == node.dimension) continue;
        return fail(at,
                    fmt::format("{} and {} do not go together here", quantity::with_article(node.dimension),
                                quantity::with_article(one->dimension)),
                    "use quantities of one kind");
      }
    }
    node.text = in_words(node);
    return std::make_shared<Node>(std::move(node));
  }

  static std::string in_words(const Node& node) {
    const auto name_of = [](Operation operation) -> std::string_view {
      switch (operation) {
        case Operation::sum: return " + ";
        case Operation::difference: return " - ";
        case Operation::product: return " * ";
        case Operation::ratio: return " / ";
        case Operation::mean: return "mean of ";
        case Operation::largest: return "largest of ";
        case Operation::smallest: return "smallest of ";
        case Operation::constant:
        case Operation::name: break;
      }
      return "";
    };
    const std::string_view name = name_of(node.operation);
    if (name.front() == ' ') return fmt::format("({}{}{})", node.of[0]->text, name, node.of[1]->text);
    std::string all(name);
    for (std::size_t i = 0; i < node.of.size(); ++i)
      all += (i == 0 ? "" : i + 1 == node.of.size() ? " and " : ", ") + node.of[i]->text;
    return all;
  }

  // --- the text ---

  void skip_space() {
    while (at_ < text_.size() && is_space(text_[at_])) ++at_;
  }
  void step_over(std::size_t count) {
    at_ += count;
    skip_space();
  }
  std::string_view word_here() const {
    std::size_t end = at_;
    while (end < text_.size() && !is_space(text_[end]) && text_[end] != '(' && text_[end] != ')' && text_[end] != ',')
      ++end;
    return text_.substr(at_, end - at_);
  }
  // A sign that stands by itself.
  std::optional<char> operator_here(std::string_view signs) const {
    const std::string_view word = word_here();
    if (word.size() != 1 || signs.find(word.front()) == std::string_view::npos) return std::nullopt;
    return word.front();
  }
  // Steps over one or two words, or a comma, if they stand here.
  bool takes(std::string_view words) {
    std::size_t at = at_;
    for (std::size_t i = 0; i < words.size(); ++i) {
      if (words[i] == ' ') {
        if (at >= text_.size() || !is_space(text_[at])) return false;
        while (at < text_.size() && is_space(text_[at])) ++at;
      } else {
        if (at >= text_.size() || text_[at] != words[i]) return false;
        ++at;
      }
    }
    const bool is_whole = words == "," || at >= text_.size() || is_space(text_[at]) || text_[at] == '(';
    if (!is_whole) return false;
    at_ = at;
    skip_space();
    return true;
  }
  Tree fail(std::size_t at, std::string message, std::string suggestion) {
    error_ = {at, std::move(message), std::move(suggestion)};
    return nullptr;
  }

  std::string_view text_;
  const NamedDimensions& names_;
  std::size_t at_;
  std::size_t begun_ = 0;
  int depth_ = 0;
  TextError error_;
};

metrology::Reading made_of(const Node& node, const std::vector<metrology::Reading>& of) {
  switch (node.operation) {
    case Operation::sum: return metrology::sum_of(of[0], of[1]);
    case Operation::difference: return metrology::difference_of(of[0], of[1]);
    case Operation::product: return metrology::product_of(of[0], of[1]);
    case Operation::ratio: return metrology::ratio_of(of[0], of[1]);
    case Operation::mean: return metrology::mean_of(of);
    case Operation::largest: return metrology::largest_of(of);
    case Operation::smallest: return metrology::smallest_of(of);
    case Operation::constant:
    case Operation::name: break;
  }
  throw base::Error(base::ErrorCode::defect, "an expression without an operation");
}

std::string unit_text(Dimension dimension) { return dimension == quantity::ratio ? "1" : quantity::unit_of(dimension); }

Value worth(const Node& node, const ValueOf& of) {
  Value value;
  if (node.operation == Operation::name) return of(node.text);
  if (node.operation == Operation::constant) {
    value.reading.value = node.si;
  } else {
    std::vector<metrology::Reading> parts;
    parts.reserve(node.of.size());
    for (const Tree& one : node.of) {
      Value part = worth(*one, of);
      if (part.reading.name.empty()) part.reading.name = one->text;  // for the message of a refusal
      value.can_pass = value.can_pass && part.can_pass;
      parts.push_back(std::move(part.reading));
    }
    try {
      value.reading = made_of(node, parts);
    } catch (const base::Error& refused) {
      throw base::Error(base::ErrorCode::bad_input, fmt::format("{}: {}", node.text, refused.record().message));
    }
    value.reading.inputs.clear();  // of the whole, below
  }
  value.reading.unit = unit_text(node.dimension);
  if (!std::isfinite(value.reading.value))
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{} is no finite number", node.text));
  return value;
}

void add_names(const Node& node, std::vector<std::string>& names) {
  if (node.operation == Operation::name && std::find(names.begin(), names.end(), node.text) == names.end())
    names.push_back(node.text);
  for (const Tree& one : node.of) add_names(*one, names);
}

}  // namespace

Dimension Expression::dimension() const { return root_->dimension; }

std::vector<std::string> Expression::names() const {
  std::vector<std::string> names;
  add_names(*root_, names);
  return names;
}

Value Expression::value(const ValueOf& of) const {
  Value value = worth(*root_, of);
  value.reading.inputs = names();
  return value;
}

NamedDimensions::NamedDimensions(std::initializer_list<std::pair<const std::string, quantity::Dimension>> few) {
  const auto kept = std::make_shared<const std::map<std::string, quantity::Dimension, std::less<>>>(few);
  find_ = [kept](std::string_view name) -> std::optional<quantity::Dimension> {
    const auto it = kept->find(name);
    return it == kept->end() ? std::nullopt : std::optional(it->second);
  };
  all_ = [kept] {
    std::vector<std::string> names;
    for (const auto& [name, dimension] : *kept) names.push_back(name);
    return names;
  };
}

quantity::Parsed<quantity::Scanned<Expression>> scan_expression(std::string_view text, const NamedDimensions& names,
                                                                std::size_t offset) {
  if (text.size() > expression_bytes_most)
    return TextError{0, fmt::format("{} bytes are too long to be read aloud", text.size()), "work it out in two steps"};
  Parser parser(text, names, offset);
  Tree tree = parser.sum();
  if (!tree) return parser.error();
  return quantity::Scanned<Expression>{Expression(std::move(tree)), parser.at()};
}

quantity::Parsed<Expression> parse_expression(std::string_view text, const NamedDimensions& names) {
  auto scanned = scan_expression(text, names);
  if (!scanned) return scanned.error();
  if (scanned->end < text.size())
    return TextError{scanned->end, fmt::format("nothing may follow here, found '{}'", text.substr(scanned->end)),
                     "join two values with + - * / and a space on both sides"};
  return scanned->value;
}

}  // namespace eyelevel::sequence
