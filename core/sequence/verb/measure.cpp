// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/measure.hpp"

#include <fmt/format.h>

#include "core/bench/bench_file.hpp"
#include "core/quantity/text.hpp"
#include "core/sequence/language/reachable.hpp"
#include "core/sequence/outside/values.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

constexpr double usual_over_s = 8;

class Measure final : public Action {
 public:
  Measure(const MeasureCall& call, MeasureSetting setting, SignalPlace signal)
      : call_(call), setting_(std::move(setting)), signal_(std::move(signal)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    co_return co_await call_.run(context, step, setting_);
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }
  double likely_s() const override {
    return setting_.operand == signal_.name ? setting_.over_s.value_or(usual_over_s) : quick_s;
  }

  std::vector<metrology::Contribution> least_budget(const bench::BenchFile& bench, double value) const override {
    return call_.least ? call_.least(bench, signal_, value) : std::vector<metrology::Contribution>();
  }
  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    if (step.must_meet) require_reachable(*this, *step.must_meet, step, bench, mistakes);
  }

 private:
  MeasureCall call_;
  MeasureSetting setting_;
  SignalPlace signal_;  // what it is measured of, directly or through captures
};

bool is_in(const std::vector<std::string>& list, const std::string& word) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

// A signal read by the measure itself: only of the right kind, set up before, and with a limit of time.
bool check_signal(StepReader& reader, const yaml::Node& at, const std::string& measure, const MeasureCall& call,
                  const SignalPlace& signal) {
  if (!is_in(call.kinds, signal.kind)) {
    reader.report(
        at,
        call.kinds.empty()
            ? fmt::format("'{}' is a signal, {} is measured of what a step before has captured", signal.name, measure)
            : fmt::format("{} is not measured of a signal of kind {} itself", measure, signal.kind),
        fmt::format("capture '{}' in a step before, with `name it`, and name the captures here", signal.name));
    return false;
  }
  if (!reader.scope.is_set_up_unclear && !reader.scope.set_up_probe.contains(signal.name))
    reader.report(at, fmt::format("'{}' has not been set up at this point", signal.name),
                  fmt::format("put `set up: {}` into the opening", signal.name));
  if (!reader.fields.has("within"))
    reader.report(reader.node(), fmt::format("measuring {} takes time, but `within` is missing", measure),
                  "write `within: 20 s`");
  return reader.ok();
}

yaml::KeyTable common_keys();

// Keys that one measure has and others have not: those of this measure must be right and complete, no others be there.
void check_own_keys(StepReader& reader, const registers::Declaration& measure) {
  static const yaml::KeyTable common = common_keys();
  yaml::Node own = reader.node();
  std::erase_if(own.entries, [](const yaml::Entry& e) { return common.find(e.key) != nullptr; });
  for (const yaml::Entry& e : own.entries)
    if (!measure.parameters.find(e.key)) {
      yaml::Node at;
      at.mark = e.key_mark;
      reader.report(at, fmt::format("'{}' says nothing to the measure '{}'", e.key, measure.name), "leave it out");
    }
  std::erase_if(own.entries, [&](const yaml::Entry& e) { return !measure.parameters.find(e.key); });
  if (!measure.parameters.keys.empty()) yaml::check(own, measure.parameters, reader.mistakes());
}

ReadStep read(StepReader& reader) {
  const yaml::Node& node = *reader.fields.node("measure");
  const auto phrase = reader.of_phrase("measure", "what is measured of what",
                                       "write a measure, `of` and a name, as in `eye level of pressed`");
  if (!phrase) return {};
  const auto* measure = reader.language.measures.find(phrase->what);
  if (!measure) {
    const auto near = reader.language.measures.nearest(phrase->what);
    reader.report(node, fmt::format("unknown measure '{}'", phrase->what),
                  near ? fmt::format("did you mean '{}'?", *near)
                       : fmt::format("write {}", yaml::one_of(reader.language.measures.names())));
    return {};
  }
  const MeasureCall& call = measure->call;
  Given given{NameKind::reading, call.dimension, 0};
  const yaml::Node& at = phrase->operand_at;
  check_own_keys(reader, measure->declaration);
  MeasureSetting setting{phrase->operand, reader.fields.quantity("over", quantity::time),
                         values_of(reader.node(), measure->declaration.parameters)};
  if (setting.over_s && !(*setting.over_s > 0 && *setting.over_s <= 3600))
    reader.report("over", "readings are taken over a time above 0 s and up to 1 h", "write a time such as `2 s`");
  const SignalPlace* signal = reader.scope.sequence.signal(phrase->operand);
  if (signal) {
    reader.uses(signal->role);
    if (!check_signal(reader, at, phrase->what, call, *signal)) return {{}, given, {}};
  } else {
    const auto source = reader.name(at, phrase->operand, call.takes);
    if (source) signal = reader.scope.sequence.signal(source->signal);
    if (!signal) return {{}, given, {}};
    if (setting.over_s)
      reader.report("over", "only a signal is measured over a time, captures are there already", "leave it out");
  }
  if (!reader.ok()) return {{}, given, {}};
  given.measured_by = std::make_shared<Measure>(call, std::move(setting), *signal);
  return {given.measured_by, given, {}};
}

yaml::KeyTable common_keys() {
  using yaml::Type;
  return {.name = "measure",
          .about = "a measurement",
          .keys = {{.name = "measure",
                    .required = true,
                    .type = Type::text,
                    .help = "what is measured of what",
                    .example = "eye level of pressed"},
                   {.name = "over",
                    .type = Type::quantity,
                    .dimension = quantity::time,
                    .help = "how long a multimeter is read (usual: 8 s)",
                    .example = "8 s"},
                   within_key(false),
                   name_it_key(),
                   must_meet_key(),
                   try_again_key(),
                   otherwise_key()}};
}

}  // namespace

void register_measure(Verbs& verbs) {
  verbs.add({.name = "measure",
             .about = "make a reading with its uncertainty",
             .parameters = common_keys(),
             .example = "- measure: eye level of pressed\n  name it: level_pressed\n  must meet: level\n",
             .sentence = "Measure the <measure>"},
            read);
}

}  // namespace eyelevel::sequence
