// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/expression/condition.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <utility>

#include "core/quantity/trimmed.hpp"
#include "core/quantity/unit.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

using quantity::TextError;
using quantity::trimmed;

enum class Test { below, above, at_least, at_most, meets, is, both, either };

struct Condition::Node {
  Test test = Test::meets;
  bool negated = false;
  std::optional<Expression> a, b;  // b of a comparison
  std::string a_text, b_text;      // as written; b_text of `meets` is the limit's name, of `is` the answer
  metrology::Limit limit;
  std::vector<std::shared_ptr<const Node>> of;
};

namespace {

using Node = Condition::Node;
using Tree = std::shared_ptr<const Node>;

struct Words {
  std::string_view words;
  Test test;
  std::string_view outcome;      // "level is 1.2 V, ..."
  std::string_view not_outcome;  // where it does not hold
};
constexpr std::array<Words, 4> comparisons = {{{"is below", Test::below, "below", "not below"},
                                               {"is above", Test::above, "above", "not above"},
                                               {"is at least", Test::at_least, "at least", "less than"},
                                               {"is at most", Test::at_most, "at most", "more than"}}};

class Parser {
 public:
  Parser(std::string_view text, const NamedDimensions& names, const NamedLimits& limits, const NamedAnswers& answers)
      : text_(text), names_(names), limits_(limits), answers_(answers) {}

  Tree either() {
    return chain("or", Test::either, [this] { return both(); });
  }
  std::size_t at() const { return at_; }
  const TextError& error() const { return error_; }

 private:
  Tree both() {
    return chain("and", Test::both, [this] { return one(); });
  }

  template <class Part>
  Tree chain(std::string_view word, Test test, Part part) {
    std::vector<Tree> of;
    do {
      Tree next = part();
      if (!next) return nullptr;
      of.push_back(std::move(next));
    } while (takes(word));
    if (of.size() == 1) return of.front();
    Node node;
    node.test = test;
    node.of = std::move(of);
    return std::make_shared<Node>(std::move(node));
  }

  Tree one() {
    skip_space();
    Node node;
    node.negated = takes("not");
    const std::size_t from = at_;
    const std::string_view word = quantity::word_at(text_.substr(at_));
    if (const auto* choices = answers_ ? answers_(word) : nullptr)
      return answered(std::move(node), std::string(word), *choices);
    if (!expression(node.a)) return nullptr;
    node.a_text = trimmed(text_.substr(from, at_ - from));
    if (takes("meets")) return limited(std::move(node), from);
    for (const Words& comparison : comparisons) {
      const std::size_t at = at_;
      if (!takes(comparison.words)) continue;
      node.test = comparison.test;
      const std::size_t second = at_;
      if (!expression(node.b)) return nullptr;
      node.b_text = trimmed(text_.substr(second, at_ - second));
      if (node.a->dimension() != node.b->dimension())
        return fail(at,
                    fmt::format("'{}' is {}, '{}' is {}: they cannot be compared", node.a_text,
                                quantity::with_article(node.a->dimension()), node.b_text,
                                quantity::with_article(node.b->dimension())),
                    "compare quantities of one kind");
      return std::make_shared<Node>(std::move(node));
    }
    return fail(at_, "expected `is below`, `is above`, `is at least`, `is at most` or `meets` here",
                "write `level is below 1.3 V` or `level meets LIMIT`");
  }

  Tree answered(Node node, const std::string& name, const std::vector<std::string>& choices) {
    at_ += name.size();
    skip_space();
    if (!takes("is"))
      return fail(at_, fmt::format("'{}' was told by the operator: expected `is` behind it", name),
                  fmt::format("write `{} is {}`", name, choices.empty() ? "WORD" : choices.front()));
    node.negated = takes("not") != node.negated;
    node.test = Test::is;
    node.a_text = name;
    node.b_text = choices.empty() ? until_space() : chosen_here(choices);
    if (node.b_text.empty() || !takes(node.b_text)) {
      const std::string found = until_space();
      const auto near = yaml::nearest(found, choices);
      return fail(at_, found.empty() ? "the answer is missing" : fmt::format("nobody can answer '{}' there", found),
                  near              ? fmt::format("did you mean '{}'?", *near)
                  : choices.empty() ? "write one word"
                                    : fmt::format("write {}", yaml::one_of(choices)));
    }
    return std::make_shared<Node>(std::move(node));
  }
  // Of two choices that stand here the longer one: "no" begins "no disc".
  std::string chosen_here(const std::vector<std::string>& choices) {
    return *std::max_element(choices.begin(), choices.end(), [this](const std::string& a, const std::string& b) {
      return length_here(a) < length_here(b);
    });
  }
  std::size_t length_here(const std::string& choice) {
    const std::size_t before = at_;
    const std::size_t length = takes(choice) ? choice.size() : 0;
    at_ = before;
    return length;
  }
  std::string until_space() const {
    const std::string_view rest = text_.substr(at_);
    return std::string(rest.substr(0, rest.find_first_of(" \t\r\n")));
  }

  Tree limited(Node node, std::size_t from) {
    const std::size_t at = at_;
    const std::string_view word = quantity::word_at(text_.substr(at_));
    const auto limit = limits_.find(word);
    if (limit == limits_.end()) {
      std::vector<std::string> known;
      known.reserve(limits_.size());
      for (const auto& [name, value] : limits_) known.push_back(name);
      const auto near = yaml::nearest(word, known);
      return fail(at, word.empty() ? "the name of a limit is missing" : fmt::format("unknown limit '{}'", word),
                  near            ? fmt::format("did you mean '{}'?", *near)
                  : known.empty() ? "name it under `limits`, as in `level: 1.20 V ± 10 %`"
                                  : fmt::format("write {}", yaml::one_of(known)));
    }
    if (node.a->dimension() != limit->second.dimension)
      return fail(
          from,
          fmt::format("'{}' is {}, the limit '{}' is {}", node.a_text, quantity::with_article(node.a->dimension()),
                      word, quantity::with_article(limit->second.dimension)),
          "take a limit of the same kind");
    at_ += word.size();
    skip_space();
    node.test = Test::meets;
    node.b_text = word;
    node.limit = limit->second.limit;
    return std::make_shared<Node>(std::move(node));
  }

  bool expression(std::optional<Expression>& into) {
    auto scanned = scan_expression(text_, names_, at_);
    if (!scanned) {
      error_ = scanned.error();
      return false;
    }
    into = scanned->value;
    at_ = scanned->end;
    skip_space();
    return true;
  }

  void skip_space() {
    while (at_ < text_.size() && trimmed(text_.substr(at_, 1)).empty()) ++at_;
  }
  // Steps over words, each with any white space behind it, if they stand here.
  bool takes(std::string_view words) {
    const std::size_t before = at_;
    while (!words.empty()) {
      const std::string_view word = words.substr(0, words.find(' '));
      if (quantity::word_at(text_.substr(at_)) != word) {
        at_ = before;
        return false;
      }
      at_ += word.size();
      skip_space();
      words.remove_prefix(std::min(words.size(), word.size() + 1));
    }
    return true;
  }
  Tree fail(std::size_t at, std::string message, std::string suggestion) {
    error_ = {at, std::move(message), std::move(suggestion)};
    return nullptr;
  }

  std::string_view text_;
  const NamedDimensions& names_;
  const NamedLimits& limits_;
  const NamedAnswers& answers_;
  std::size_t at_ = 0;
  TextError error_;
};

std::string told(const Expression& expression, double value) {
  return quantity::print({value, expression.dimension()}, 4);
}

Condition::Outcome compared(const Node& node, const ValueOf& of) {
  const double a = node.a->value(of).reading.value, b = node.b->value(of).reading.value;
  const Words& words =
      *std::find_if(comparisons.begin(), comparisons.end(), [&](const Words& w) { return w.test == node.test; });
  const bool holds = node.test == Test::below      ? a < b
                     : node.test == Test::above    ? a > b
                     : node.test == Test::at_least ? a >= b
                                                   : a <= b;
  return {holds, fmt::format("{} is {}, {} {}", node.a_text, told(*node.a, a),
                             holds ? words.outcome : words.not_outcome, told(*node.b, b))};
}

Condition::Outcome limited(const Node& node, const ValueOf& of) {
  const Value value = node.a->value(of);
  const auto judgement = metrology::judge(value.reading.value, value.reading.interval.expanded_uncertainty, node.limit);
  const bool is_inside = judgement == metrology::Judgement::pass;
  const std::string_view verb = is_inside && value.can_pass               ? "meets"
                                : is_inside                               ? "cannot pass, though it lies inside"
                                : judgement == metrology::Judgement::fail ? "does not meet"
                                                                          : "is too near to the end of";
  return {is_inside && value.can_pass,
          fmt::format("{} is {} ± {} and {} {}", node.a_text, told(*node.a, value.reading.value),
                      told(*node.a, value.reading.interval.expanded_uncertainty), verb, node.b_text)};
}

Condition::Outcome answered(const Node& node, const AnswerOf& told) {
  const std::string answer = told(node.a_text);
  return {answer == node.b_text, fmt::format("{} is '{}'", node.a_text, answer)};
}

Condition::Outcome outcome(const Node& node, const ValueOf& of, const AnswerOf& told) {
  Condition::Outcome out;
  if (node.test == Test::both || node.test == Test::either) {
    out.holds = node.test == Test::both;
    for (const Tree& one : node.of) {
      const Condition::Outcome part = outcome(*one, of, told);
      out.holds = node.test == Test::both ? out.holds && part.holds : out.holds || part.holds;
      out.because += (out.because.empty() ? "" : "; ") + part.because;
    }
  } else if (node.test == Test::is) {
    out = answered(node, told);
  } else {
    out = node.test == Test::meets ? limited(node, of) : compared(node, of);
  }
  if (node.negated) out.holds = !out.holds;
  return out;
}

void add_name(const std::string& name, std::vector<std::string>& names) {
  if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
}

void add_names(const Node& node, std::vector<std::string>& names) {
  if (node.test == Test::is) add_name(node.a_text, names);
  for (const auto& expression : {node.a, node.b}) {
    if (!expression) continue;
    for (const std::string& name : expression->names()) add_name(name, names);
  }
  for (const Tree& one : node.of) add_names(*one, names);
}

void add_meets(const Node& node, std::vector<Condition::Meets>& meets) {
  if (node.test == Test::meets && node.a->names() == std::vector{node.a_text})
    meets.push_back({node.a_text, node.b_text});
  for (const Tree& one : node.of) add_meets(*one, meets);
}

}  // namespace

std::vector<Condition::Meets> Condition::meets() const {
  std::vector<Meets> meets;
  add_meets(*root_, meets);
  return meets;
}

std::vector<std::string> Condition::names() const {
  std::vector<std::string> names;
  add_names(*root_, names);
  return names;
}

Condition::Outcome Condition::holds(const ValueOf& of, const AnswerOf& told) const { return outcome(*root_, of, told); }

quantity::Parsed<Condition> parse_condition(std::string_view text, const NamedDimensions& names,
                                            const NamedLimits& limits, const NamedAnswers& answers) {
  Parser parser(text, names, limits, answers);
  Tree tree = parser.either();
  if (!tree) return parser.error();
  if (parser.at() < text.size())
    return TextError{parser.at(), fmt::format("nothing may follow here, found '{}'", text.substr(parser.at())),
                     "join two conditions with `and` or `or`"};
  return Condition(std::move(tree));
}

}  // namespace eyelevel::sequence
