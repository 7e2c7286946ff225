// SPDX-License-Identifier: Apache-2.0
#include "core/bench/model_sheet.hpp"
#include "core/metrology/observations.hpp"
#include "core/sequence/measure/chain.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"

namespace eyelevel::sequence {

namespace {

task<metrology::Reading> top_level(RunContext& context, const Step&, const MeasureSetting& setting) {
  const CaptureSet& set = context.captures(setting.operand);
  metrology::Reading reading = reading_from(context, set, "top level", "V");
  if (context.is_ac_coupled(set.signal.name))
    throw base::Error(base::ErrorCode::wrong_wiring,
                      "'" + set.signal.name + "' is a.c. coupled, so that its top level is lost",
                      "set it up with `coupling: dc`");
  // The analysis takes more volts for more light; of a pad that falls with light the lands are at its bottom.
  const bool rises = !context.model() || context.model()->pad.light_raises_voltage;
  if (!context.model()) reading.notes.emplace_back("no model sheet: more volts are taken for more light");
  const auto tops = value_per_capture(
      set, "a top level", [rises](const disc::Analysis& a) { return rises ? a.level.top_v : a.level.bottom_v; });
  const Chain chain = chain_of(context, set.signal);
  const auto mean = metrology::mean_of_independent(tops);
  const double value = chain.unloaded(mean.value);
  std::vector<metrology::Contribution> budget{
      mean.contribution("top level of the captures " + set.name, chain.unloaded(1))};
  add_chain(budget, chain, value, Share::direct);
  budget.push_back({.source = "conversion of the top of " + set.name,
                    .type = 'B',
                    .shape = metrology::Shape::normal,
                    .effect = conversion_v(set.step_v, mean.sd)});
  reading.notes.insert(reading.notes.end(), chain.assumed.begin(), chain.assumed.end());
  complete(reading, value, budget);
  co_return reading;
}

}  // namespace

void register_top_level(Measures& measures) {
  measures.add({.name = "top level",
                .about = "settled level of the longest lands, where the light is most; volts, not counted from dark",
                .parameters = {},
                .example = "- measure: top level of pressed\n  name it: top_pressed\n"},
               {{NameKind::captures}, {}, quantity::voltage, top_level});
}

}  // namespace eyelevel::sequence
