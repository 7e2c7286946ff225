// SPDX-License-Identifier: Apache-2.0
// Whether something holds, in words: `level_before is below 1.3 V`, `drift meets steady`, `a is at least b and not c
// meets level`, `a meets x or b meets x`; `and` binds closer than `or`. `is below`, `is above`, `is at least` and `is
// at most` compare values as they are; `meets` is the judgement of the whole stated interval, and true for pass only.
// What the operator told is compared by `is` and `is not`: `lens_clean is yes`. Immutable; any thread.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/metrology/reading.hpp"
#include "core/quantity/text.hpp"
#include "core/sequence/expression/expression.hpp"

namespace eyelevel::sequence {

struct LimitOf {
  metrology::Limit limit;
  quantity::Dimension dimension;
};
using NamedLimits = std::map<std::string, LimitOf, std::less<>>;

// What may be told under a name, null for a name that is no answer; nothing listed: any one word.
using NamedAnswers = std::function<const std::vector<std::string>*(std::string_view name)>;
using AnswerOf = std::function<std::string(const std::string& name)>;

class Condition {
 public:
  struct Node;

  explicit Condition(std::shared_ptr<const Node> root) : root_(std::move(root)) {}

  // Each name of a reading or an answer once, in the order of the text.
  std::vector<std::string> names() const;

  // Each place where a name by itself stands before `meets`.
  struct Meets {
    std::string name;
    std::string limit;  // its name
  };
  std::vector<Meets> meets() const;

  struct Outcome {
    bool holds = false;
    std::string because;  // "level_before is 1.21 V, below 1.3 V"
  };
  // Throws what Expression::value throws. All parts are worked out, whatever the first ones say.
  Outcome holds(const ValueOf& of, const AnswerOf& told = {}) const;

 private:
  std::shared_ptr<const Node> root_;
};

// The whole text.
quantity::Parsed<Condition> parse_condition(std::string_view text, const NamedDimensions& names,
                                            const NamedLimits& limits, const NamedAnswers& answers = {});

}  // namespace eyelevel::sequence
