// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/judge.hpp"

#include <fmt/format.h>

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class Judge final : public Action {
 public:
  Judge(std::string reading, NamedLimit limit) : reading_(std::move(reading)), limit_(std::move(limit)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.judge(step.place, context.reading(reading_), limit_);
    co_return std::monostate{};
  }

 private:
  std::string reading_;
  NamedLimit limit_;
};

ReadStep read(StepReader& reader) {
  const auto name = reader.text("judge");
  const auto dimension = name ? reader.reading(*reader.fields.node("judge"), *name) : std::nullopt;
  const NamedLimit* limit = reader.limit("must meet");
  if (!dimension || !limit) return {};
  if (limit->dimension != *dimension) {
    reader.report(
        "must meet",
        fmt::format("the limit '{}' is {} ({}), but '{}' is {}", limit->name, quantity::with_article(limit->dimension),
                    limit->text, *name, quantity::with_article(*dimension)),
        fmt::format("name a limit such as `{}`", quantity::example_of(*dimension)));
    return {};
  }
  return {std::make_shared<Judge>(*name, *limit), {}, {}};
}

}  // namespace

void register_judge(Verbs& verbs) {
  registers::Declaration judge{.name = "judge",
                               .about = "hold a reading of an earlier step against a limit",
                               .parameters = {.name = "judge", .about = "a judgement of a reading", .keys = {}},
                               .example = "- judge: level_pressed\n  must meet: level\n",
                               .sentence = "Hold <judge> against <must meet>"};
  judge.parameters.keys = {{.name = "judge",
                            .required = true,
                            .type = yaml::Type::text,
                            .help = "the name of the reading",
                            .example = "level_pressed"},
                           must_meet_key(true),
                           otherwise_key()};
  verbs.add(std::move(judge), read);
}

}  // namespace eyelevel::sequence
