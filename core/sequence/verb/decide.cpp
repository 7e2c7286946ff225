// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/decide.hpp"

#include <fmt/format.h>

#include "core/sequence/expression/condition.hpp"
#include "core/sequence/language/reachable.hpp"
#include "core/sequence/verb/readings_of.hpp"

namespace eyelevel::sequence {

namespace {

class Decide final : public Action {
 public:
  // A measured reading that the condition holds against a limit.
  struct Held {
    std::shared_ptr<const Action> measured_by;
    NamedLimit limit;
  };

  Decide(Condition condition, std::vector<Held> held) : condition_(std::move(condition)), held_(std::move(held)) {}

  task<Result> run(RunContext& context, const Step&) const override {
    Condition::Outcome outcome = condition_.holds(
        readings_of(context), [&context](const std::string& name) { return context.answer(name).answer; });
    co_return Decision{outcome.holds, std::move(outcome.because)};
  }

  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    for (const Held& held : held_) require_reachable(*held.measured_by, held.limit, step, bench, mistakes);
  }

 private:
  Condition condition_;
  std::vector<Held> held_;
};

std::vector<Decide::Held> held_by(const Condition& condition, const Scope& scope) {
  std::vector<Decide::Held> all;
  for (const Condition::Meets& meets : condition.meets())
    for (const NamedLimit& limit : scope.sequence.limits)
      if (const auto given = scope.given.find(meets.name);
          limit.name == meets.limit && given != scope.given.end() && given->second.measured_by)
        all.push_back({given->second.measured_by, limit});
  return all;
}

ReadStep read_if(StepReader& reader) {
  ReadStep step;
  step.flow = Flow::decide;
  step.action = read_condition(reader, "if");
  step.inside = reader.steps("then");
  return step;
}

class FinishHere final : public Action {
 public:
  explicit FinishHere(std::optional<metrology::Judgement> judgement) : judgement_(judgement) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.tell(event::Noted{step.place, "finished here"});
    co_return Finish{judgement_};
  }

 private:
  std::optional<metrology::Judgement> judgement_;
};

ReadStep read_finish(StepReader& reader) {
  ReadStep step;
  step.finishes = true;
  const auto how = reader.text("finish");
  if (!how) return step;
  std::optional<metrology::Judgement> judgement;
  if (*how == "fail") judgement = metrology::Judgement::fail;
  if (*how == "undecided") judgement = metrology::Judgement::undecided;
  step.action = std::make_shared<FinishHere>(judgement);
  return step;
}

}  // namespace

std::shared_ptr<const Action> read_condition(StepReader& reader, std::string_view key) {
  const auto text = reader.text(key);
  if (!text) return nullptr;
  NamedLimits limits;
  for (const NamedLimit& limit : reader.scope.sequence.limits)
    limits.emplace(limit.name, LimitOf{limit.limit, limit.dimension});
  const auto condition = parse_condition(*text, reader.readings(), limits, reader.answers());
  if (!condition) {
    reader.report(key, condition.error());
  } else if (condition->names().empty()) {
    reader.report(key, "no reading stands in it, so that it always comes out the same",
                  "name a reading of an earlier step");
  } else {
    for (const std::string& name : condition->names()) reader.uses_name(name);
    return std::make_shared<Decide>(*condition, held_by(*condition, reader.scope));
  }
  return nullptr;
}

void register_if(Verbs& verbs) {
  registers::Declaration declared{
      .name = "if",
      .about =
          "do steps only if something holds: `A is below B`, `is above`, `is at least`, `is at most`, `A meets LIMIT`",
      .parameters = {.name = "if", .about = "a decision", .keys = {}},
      .example = "- if: level_before meets level\n  then:\n    - note: Level was right, trimmer left alone\n",
      .sentence = "If <if>"};
  declared.parameters.keys = {
      {.name = "if",
       .required = true,
       .type = yaml::Type::text,
       .help = "a condition on readings of earlier steps; `and`, `or` and `not` join conditions",
       .example = "level_before meets level"},
      steps_key("then", "steps to do when it holds"),
      otherwise_key()};
  verbs.add(std::move(declared), read_if);
}

void register_finish(Verbs& verbs) {
  registers::Declaration declared{.name = "finish",
                                  .about = "leave out all further steps but those of the closing",
                                  .parameters = {.name = "finish", .about = "the end of the steps", .keys = {}},
                                  .example = "- finish: fail\n",
                                  .sentence = "Leave out all further steps: <finish>"};
  declared.parameters.keys = {
      {.name = "finish",
       .required = true,
       .type = yaml::Type::word,
       .help =
           "fail or undecided: that is the run's judgement, whatever else passed; as judged: by what was judged so far",
       .example = "fail",
       .choices = {"fail", "undecided", "as judged"}}};
  verbs.add(std::move(declared), read_finish);
}

}  // namespace eyelevel::sequence
