// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/work_out.hpp"

#include "core/sequence/expression/expression.hpp"
#include "core/sequence/verb/readings_of.hpp"

namespace eyelevel::sequence {

namespace {

class WorkOut final : public Action {
 public:
  WorkOut(std::string text, Expression expression) : text_(std::move(text)), expression_(std::move(expression)) {}

  task<Result> run(RunContext& context, const Step&) const override {
    Value value = expression_.value(readings_of(context));
    value.reading.name = text_;
    value.reading.measure = text_;
    if (!value.can_pass) context.cannot_pass(text_);
    co_return std::move(value.reading);
  }

 private:
  std::string text_;
  Expression expression_;
};

ReadStep read(StepReader& reader) {
  const ReadStep nothing{{}, Given{}, {}};
  const auto text = reader.text("work out");
  if (!text) return nothing;
  const auto expression = parse_expression(*text, reader.readings());
  if (!expression) {
    reader.report("work out", expression.error());
    return nothing;
  }
  if (expression->names().empty()) {
    reader.report("work out", "no reading stands in it", "name readings of earlier steps");
    return nothing;
  }
  for (const std::string& name : expression->names()) reader.uses_name(name);
  return {std::make_shared<WorkOut>(*text, *expression), Given{NameKind::reading, expression->dimension(), 0}, {}};
}

}  // namespace

void register_work_out(Verbs& verbs) {
  registers::Declaration work_out{
      .name = "work out",
      .about = "make a reading of readings: + - * /, mean of, largest of, smallest of, difference of, ratio of",
      .parameters = {.name = "work out", .about = "an expression", .keys = {}},
      .example = "- work out: level_after - level_before\n  name it: change\n",
      .sentence = "Work out <work out>"};
  work_out.parameters.keys = {{.name = "work out",
                               .required = true,
                               .type = yaml::Type::text,
                               .help = "readings of earlier steps and quantities, with a space around each sign",
                               .example = "level_after - level_before"},
                              name_it_key(),
                              must_meet_key(),
                              otherwise_key()};
  verbs.add(std::move(work_out), read);
}

}  // namespace eyelevel::sequence
