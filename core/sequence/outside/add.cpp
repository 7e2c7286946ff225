// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/outside/add.hpp"

#include <fmt/format.h>

#include "core/sequence/outside/results.hpp"
#include "core/sequence/outside/values.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

using registers::OutsidePart;
using registers::Question;
using SharedPart = std::shared_ptr<const OutsidePart>;

std::string full_name(const OutsidePart& part) {
  return fmt::format("{} '{}' of {}", registers::name_of(part.kind), part.declaration.name, part.declaration.from);
}

task<registers::Answer> ask(RunContext& context, const OutsidePart& part, Question question) {
  context.progress() = "waiting for " + full_name(part);
  co_return co_await part.call(std::move(question), context.timeline(), context.call_limit());
}

class OutsideVerb final : public Action {
 public:
  OutsideVerb(SharedPart part, registers::OutsideValues values, std::map<std::string, std::string> names)
      : part_(std::move(part)), values_(std::move(values)), names_(std::move(names)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    Question question{
        .kind = part_->kind, .name = part_->declaration.name, .ask = {}, .values = values_, .results = {}};
    for (const auto& [key, name] : names_)
      question.results.emplace(key, result_for_outside(context, name, part_->results.at(key)));
    const double from_s = context.now_s();
    const registers::Answer answer = co_await ask(context, *part_, std::move(question));
    if (!part_->gives) {
      for (const std::string& note : answer.notes) context.tell(event::Noted{step.place, note});
      co_return std::monostate{};
    }
    metrology::Reading reading = reading_of(*part_, answer, step.place.text);
    for (const auto& [key, name] : names_) reading.inputs.push_back(name);
    reading.from_s = from_s;
    reading.until_s = context.now_s();
    co_return reading;
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }

 private:
  SharedPart part_;
  registers::OutsideValues values_;
  std::map<std::string, std::string> names_;  // results, by the keys that name them
};

ReadStep read_verb(StepReader& reader, const SharedPart& part) {
  ReadStep nothing;
  if (part->gives) nothing.gives = Given{NameKind::reading, *part->gives, 0};
  std::map<std::string, std::string> names;
  for (const auto& [key, kind] : part->results) {
    const auto name = reader.text(key);
    if (!name) continue;  // it need not be given, or its absence was reported
    if (!reader.name(*reader.fields.node(key), *name, {name_kind_of(kind)})) continue;
    names.emplace(key, *name);
  }
  if (!reader.ok()) return nothing;
  yaml::KeyTable plain = part->declaration.parameters;
  std::erase_if(plain.keys, [&](const yaml::Key& key) { return part->results.contains(key.name); });
  ReadStep read = nothing;
  read.action = std::make_shared<OutsideVerb>(part, values_of(reader.node(), plain), std::move(names));
  return read;
}

task<metrology::Reading> run_measure(RunContext& context, const MeasureSetting& setting, const OutsidePart& part) {
  Question question{.kind = part.kind, .name = part.declaration.name, .ask = {}, .values = setting.own, .results = {}};
  question.results.emplace("of", result_for_outside(context, setting.operand, *part.takes));
  const registers::Answer answer = co_await ask(context, part, std::move(question));
  metrology::Reading reading =
      reading_of(part, answer, fmt::format("{} of {}", part.declaration.name, setting.operand));
  reading.inputs = {setting.operand};
  if (part.takes == registers::ResultKind::waveform) {
    const AveragedWaveform& average = context.waveform(setting.operand);
    reading.of = average.signal.name;
    reading.from_s = average.from_s;
    reading.until_s = average.until_s;
  } else {
    const CaptureSet& set = context.captures(setting.operand);
    reading.of = set.signal.name;
    reading.tried = set.counts.tried;
    if (!set.kept.empty()) {
      reading.from_s = set.kept.front().from_s;
      reading.until_s = set.kept.back().until_s;
    }
    if (set.too_many_rejected) context.cannot_pass(reading.name);
  }
  co_return reading;
}

// Keys of every step, and of `measure`, which say the same everywhere.
void require_own_keys(const Language& language, const OutsidePart& part) {
  const auto refuse = [&](const std::string& key, std::string_view why) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{} is refused: its key '{}' {}", full_name(part), key, why),
                      "give the key another name");
  };
  const auto* verb = language.verbs.find("measure");
  if (!verb) throw base::Error(base::ErrorCode::defect, "a part came from outside before the verb `measure`");
  for (const yaml::Key& key : part.declaration.parameters.keys) {
    for (const std::string_view taken :
         {"within", "only with", "try again", "name it", "must meet", "otherwise", "over", "measure"})
      if (key.name == taken) refuse(key.name, "is the house's own");
    if (!can_be_handed_out(key.type)) refuse(key.name, "is of a type that cannot be handed out");
    if (part.kind != registers::PartKind::measure) continue;
    const yaml::Key* there = verb->declaration.parameters.find(key.name);
    if (there && (there->type != key.type || there->dimension != key.dimension || there->choices != key.choices))
      refuse(key.name, "means something else for another measure");
  }
}

void add_measure(Language& language, const SharedPart& part) {
  MeasureCall call{.takes = {name_kind_of(*part->takes)},
                   .kinds = {},
                   .dimension = *part->gives,
                   .run = [part](RunContext& context, const Step&, const MeasureSetting& setting) {
                     return run_measure(context, setting, *part);
                   }};
  language.measures.add(part->declaration, std::move(call));
  for (yaml::Key key : part->declaration.parameters.keys) {
    key.required = false;  // only for this measure, which its reader sees to
    language.verbs.add_key("measure", std::move(key));
  }
}

void add_verb(Language& language, const SharedPart& part) {
  registers::Declaration declaration = part->declaration;
  auto& keys = declaration.parameters.keys;
  keys.push_back(within_key(true));
  if (part->gives) {
    keys.push_back(name_it_key());
    keys.push_back(must_meet_key());
  }
  keys.push_back(otherwise_key());
  declaration.parameters.keys.push_back(resume_here_key());
  language.verbs.add(std::move(declaration), [part](StepReader& reader) { return read_verb(reader, part); });
}

}  // namespace

void add_outside(Language& language, const OutsidePart& part) {
  require_own_keys(language, part);
  const auto shared = std::make_shared<const OutsidePart>(part);
  if (part.kind == registers::PartKind::measure) {
    add_measure(language, shared);
  } else if (part.kind == registers::PartKind::verb) {
    add_verb(language, shared);
  } else {
    throw base::Error(base::ErrorCode::defect, full_name(part) + " is no part of the language");
  }
}

}  // namespace eyelevel::sequence
