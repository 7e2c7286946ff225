// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/judge.hpp"

#include <fmt/format.h>

#include "core/sequence/language/reachable.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class Judge final : public Action {
 public:
  Judge(std::string reading, NamedLimit limit, std::shared_ptr<const Action> measured_by)
      : reading_(std::move(reading)), limit_(std::move(limit)), measured_by_(std::move(measured_by)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.judge(step.place, context.reading(reading_), limit_);
    co_return std::monostate{};
  }

  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    if (measured_by_) require_reachable(*measured_by_, limit_, step, bench, mistakes);
  }

 private:
  std::string reading_;
  NamedLimit limit_;
  std::shared_ptr<const Action> measured_by_;  // empty: worked out
};

ReadStep read(StepReader& reader) {
  const auto name = reader.text("judge");
  const auto given = name ? reader.name(*reader.fields.node("judge"), *name, {NameKind::reading}) : std::nullopt;
  const NamedLimit* limit = reader.limit("must meet");
  if (!given || given->kind == NameKind::unknown || !limit) return {};
  if (limit->dimension != given->dimension) {
    reader.report(
        "must meet",
        fmt::format("the limit '{}' is {} ({}), but '{}' is {}", limit->name, quantity::with_article(limit->dimension),
                    limit->text, *name, quantity::with_article(given->dimension)),
        fmt::format("name a limit such as `{}`", quantity::example_of(given->dimension)));
    return {};
  }
  return {std::make_shared<Judge>(*name, *limit, given->measured_by), {}, {}};
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
