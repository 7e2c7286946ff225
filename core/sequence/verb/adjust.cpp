// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/adjust.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/bench/model_sheet.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/sequence/language/reachable.hpp"
#include "core/sequence/verb/adjusting.hpp"
#include "core/sequence/verb/capture.hpp"
#include "core/sequence/verb/wait_for.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

// Enough for the level to half a per cent and for three turns of the disc.
constexpr double each_s = 500e-6;
constexpr long long keep = 32;
constexpr long long try_at_most = 100;
// Three turns, each with its prompts, spinning up and captures (practice value).
constexpr double likely_turns = 3;
constexpr double turn_s = 75;

const std::vector<std::string> what_can_be_adjusted = {"laser trimmer"};
constexpr const char* usual_to_play = "Switch the player on and start track 2";

class Adjust final : public Action {
 public:
  explicit Adjust(AdjustSetting setting) : setting_(std::move(setting)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    Adjusting adjusting(context, step, setting_);
    co_return co_await adjusting.all();
  }
  double likely_s() const override { return likely_turns * turn_s; }
  const bench::Question* asks() const override { return &asks_; }
  std::optional<bool> leaves_laser_lit() const override { return true; }
  std::string advice_when_late() const override { return "some turns take a minute each: give it more time"; }

  std::vector<metrology::Contribution> least_budget(const bench::BenchFile& bench, double value) const override {
    return setting_.measure.least ? setting_.measure.least(bench, setting_.signal, value)
                                  : std::vector<metrology::Contribution>();
  }
  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    require_reachable(*this, setting_.limit, step, bench, mistakes);
  }
  void check_on_model(const Step& step, const bench::ModelSheet* model, yaml::Mistakes& mistakes) const override {
    if (!model) return;  // told when it runs
    const yaml::Mark at{step.place.line, step.place.column};
    if (model->pad.point == bench::PadPoint::after_gain_control)
      mistakes.add(at,
                   fmt::format("the pad of the {} lies after its gain control: the level there says nothing of the "
                               "light, and the laser would be turned up for nothing",
                               model->model),
                   "measure before the gain control, and name that pad in the model sheet");
    if (!model->trimmer)
      mistakes.add(at, fmt::format("the model sheet of the {} knows no trimmer", model->model),
                   "describe it under `trimmer` in the model sheet");
  }

 private:
  AdjustSetting setting_;
  bench::Question asks_{.text = "Switch the player off, turn the laser trimmer as told, switch it on: turn by turn"};
};

// A measure of captures, in volts, of a signal that was set up.
const MeasureCall* read_watched(StepReader& reader, AdjustSetting& setting) {
  const yaml::Node& node = *reader.fields.node("watch");
  const auto phrase = reader.of_phrase("watch", "what is watched of which signal",
                                       "write a measure, `of` and a signal, as in `eye level of rf`");
  if (!phrase) return nullptr;
  const auto* measure = reader.language.measures.find(phrase->what);
  if (!measure) {
    const auto near = reader.language.measures.nearest(phrase->what);
    reader.report(node, fmt::format("unknown measure '{}'", phrase->what),
                  near ? fmt::format("did you mean '{}'?", *near)
                       : fmt::format("write {}", yaml::one_of(reader.language.measures.names())));
    return nullptr;
  }
  const auto& takes = measure->call.takes;
  if (std::find(takes.begin(), takes.end(), NameKind::captures) == takes.end() ||
      measure->call.dimension != quantity::voltage) {
    reader.report(node, fmt::format("'{}' cannot be watched: it is no level of captures", phrase->what),
                  "write `eye level of` and the signal");
    return nullptr;
  }
  const SignalPlace* signal = reader.signal(phrase->operand_at, phrase->operand);
  if (!signal) return nullptr;
  if (signal->kind != "oscilloscope") {
    reader.report(phrase->operand_at,
                  fmt::format("'{}' is a signal of kind {}, which captures nothing", signal->name, signal->kind),
                  "name a signal of an oscilloscope");
    return nullptr;
  }
  if (!reader.scope.is_set_up_unclear && !reader.scope.set_up_probe.contains(signal->name))
    reader.report(phrase->operand_at, fmt::format("'{}' has not been set up at this point", signal->name),
                  fmt::format("put `set up: {}` into the opening", signal->name));
  setting.signal = *signal;
  setting.watched = fmt::format("{} of {}", phrase->what, phrase->operand);
  return &measure->call;
}

// Limits to bring it within, and a ceiling above them.
void read_limits(StepReader& reader, AdjustSetting& setting) {
  const NamedLimit* limit = reader.limit("bring within");
  const auto ceiling = reader.fields.quantity("never above", quantity::voltage);
  if (!limit) return;
  setting.limit = *limit;
  if (limit->dimension != quantity::voltage || !limit->limit.at_least || !limit->limit.at_most ||
      !(*limit->limit.at_least > 0)) {
    reader.report(
        "bring within",
        fmt::format("the limit '{}' ({}) is no level between two others above zero", limit->name, limit->text),
        "name a limit such as `1.20 V ± 10 %`");
    return;
  }
  if (!ceiling) return;
  setting.ceiling = *ceiling;
  if (*ceiling < *limit->limit.at_most)
    reader.report("never above",
                  fmt::format("the ceiling lies below the upper end of '{}' ({})", limit->name, limit->text),
                  "let it lie above what the level may be");
}

ReadStep read(StepReader& reader) {
  AdjustSetting setting;
  const ReadStep nothing{{}, Given{NameKind::reading, quantity::voltage}, {}};
  const auto what = reader.text("adjust");
  if (what && *what != what_can_be_adjusted.front()) {
    const auto near = yaml::nearest(*what, what_can_be_adjusted);
    reader.report(
        "adjust", fmt::format("'{}' cannot be adjusted with guidance", *what),
        near ? fmt::format("did you mean '{}'?", *near) : fmt::format("write {}", yaml::one_of(what_can_be_adjusted)));
  }
  if (reader.scope.sequence.cautions.empty())
    reader.report("adjust", "a trimmer is turned in an open player, but the sequence has no `cautions`",
                  "say under `cautions` what is dangerous: invisible laser radiation, static, the screwdriver");
  const MeasureCall* measure = read_watched(reader, setting);
  read_limits(reader, setting);
  constexpr int turns_most = 100;
  const auto turns = read_count(*reader.fields.node("turns"), {.before = "at most", .after = {}, .most = turns_most},
                                reader.mistakes());
  setting.to_play = reader.text("to play").value_or(usual_to_play);
  if (!measure || !reader.ok()) return nothing;
  setting.measure = *measure;
  setting.turns_most = static_cast<int>(*turns);
  setting.wait = wait_for_audio_action(setting.signal);
  setting.capture = capture_action({setting.signal, each_s, keep, try_at_most});
  ReadStep step;
  step.must_meet = setting.limit;
  step.action = std::make_shared<Adjust>(std::move(setting));
  step.gives = Given{NameKind::reading, quantity::voltage};
  step.gives->measured_by = step.action;
  return step;
}

}  // namespace

void register_adjust(Verbs& verbs) {
  using yaml::Type;
  registers::Declaration adjust{
      .name = "adjust",
      .about = "guide the operator's screwdriver, with the player off for each turn, until a level is within limits",
      .parameters = {.name = "adjust", .about = "a guided adjustment", .keys = {}},
      .example =
          "- adjust: laser trimmer\n  watch: eye level of rf\n  bring within: level\n  never above: 1.45 V\n  "
          "turns: at most 12\n  within: 30 min\n  name it: level_after\n",
      .sentence =
          "Adjust the <adjust> until the <watch> is within <bring within>, never above <never above>, with <turns> "
          "turns, each with the player off"};
  adjust.parameters.keys = {
      {.name = "adjust", .required = true, .type = Type::text, .help = "what is turned", .example = "laser trimmer"},
      {.name = "watch",
       .required = true,
       .type = Type::text,
       .help = "what is measured after each turn, of which signal",
       .example = "eye level of rf"},
      {.name = "bring within",
       .required = true,
       .type = Type::text,
       .help = "the limit that it must meet for sure",
       .example = "level"},
      {.name = "never above",
       .required = true,
       .type = Type::quantity,
       .dimension = quantity::voltage,
       .help = "the ceiling: no turn is advised that may pass it, and above it the player is to be switched off",
       .example = "1.45 V"},
      {.name = "turns",
       .required = true,
       .type = Type::own,
       .help = "after so many it gives up",
       .example = "at most 12"},
      {.name = "to play",
       .type = Type::text,
       .help = "what the operator is asked after each turn (usual: Switch the player on and start track 2)",
       .example = "Switch the player on and start track 2"},
      within_key(true),
      name_it_key(),
      must_meet_key(),
      otherwise_key()};
  verbs.add(std::move(adjust), read);
}

}  // namespace eyelevel::sequence
