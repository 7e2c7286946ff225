// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/compare.hpp"

#include <fmt/format.h>

#include "core/metrology/derived.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class Compare final : public Action {
 public:
  Compare(std::string a, std::string b, bool is_ratio) : a_(std::move(a)), b_(std::move(b)), is_ratio_(is_ratio) {}

  task<Result> run(RunContext& context, const Step&) const override {
    const metrology::Reading& a = context.reading(a_);
    const metrology::Reading& b = context.reading(b_);
    metrology::Reading result = is_ratio_ ? metrology::ratio_of(a, b) : metrology::difference_of(a, b);
    result.name = fmt::format("{} of {} and {}", is_ratio_ ? "ratio" : "difference", a_, b_);
    if (!context.can_pass(a_) || !context.can_pass(b_)) context.cannot_pass(result.name);
    co_return result;
  }

 private:
  std::string a_, b_;
  bool is_ratio_;
};

ReadStep read(StepReader& reader) {
  const yaml::Node& node = *reader.fields.node("compare");
  const auto words = words_of(node.text);
  if (words.size() != 3 || words[1].text != "with") {
    reader.report(node, fmt::format("'{}' does not say which reading is compared with which", node.text),
                  "write `compare: level_after with level_before`");
    return {{}, Given{}, {}};
  }
  const auto dimension_of = [&](const Word& word) {
    yaml::Node at = node;
    at.mark = node.mark_of(word.offset);
    return reader.reading(at, word.text);
  };
  const auto a = dimension_of(words[0]);
  const auto b = dimension_of(words[2]);
  if (!a || !b) return {{}, Given{}, {}};
  const bool is_ratio = reader.text("as") == "ratio";
  if (*a != *b) {
    reader.report(node,
                  fmt::format("'{}' is {}, '{}' is {}: they cannot be compared", words[0].text,
                              quantity::with_article(*a), words[2].text, quantity::with_article(*b)),
                  "name two readings of one kind");
    return {{}, Given{}, {}};
  }
  return {std::make_shared<Compare>(words[0].text, words[2].text, is_ratio),
          Given{NameKind::reading, is_ratio ? quantity::ratio : *a, 0},
          {}};
}

}  // namespace

void register_compare(Verbs& verbs) {
  using yaml::Type;
  registers::Declaration compare{
      .name = "compare",
      .about = "make one reading of two: their difference or their ratio",
      .parameters = {.name = "compare", .about = "a comparison", .keys = {}},
      .example =
          "- compare: level_after with level_before\n  as: ratio\n  name it: change\n  must meet: half_to_double\n",
      .sentence = "Compare <compare>"};
  compare.parameters.keys = {{.name = "compare",
                              .required = true,
                              .type = Type::text,
                              .help = "two readings of earlier steps",
                              .example = "level_after with level_before"},
                             {.name = "as",
                              .required = true,
                              .type = Type::word,
                              .help = "difference: the first less the second; ratio: the first over the second",
                              .example = "ratio",
                              .choices = {"difference", "ratio"}},
                             name_it_key(),
                             must_meet_key(),
                             otherwise_key()};
  verbs.add(std::move(compare), read);
}

}  // namespace eyelevel::sequence
