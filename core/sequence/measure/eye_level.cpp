// SPDX-License-Identifier: Apache-2.0
#include <cmath>

#include "core/metrology/observations.hpp"
#include "core/sequence/measure/chain.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"

namespace eyelevel::sequence {

namespace {

// What moves a level over the converter's steps, beside its bobbing: the noise of a sample without that of the steps.
double noise_without_steps_v(const CaptureSet& set) {
  double squares = 0;
  double count = 0;
  for (const KeptCapture& c : set.kept)
    if (c.analysis.level_noise_v) {
      squares += *c.analysis.level_noise_v * *c.analysis.level_noise_v;
      count += 1;
    }
  if (count == 0) return 0;
  return std::sqrt(std::max(0.0, squares / count - set.step_v * set.step_v / 12));
}

task<metrology::Reading> eye_level(RunContext& context, const Step&, const MeasureSetting& setting) {
  const CaptureSet& set = context.captures(setting.operand);
  metrology::Reading reading = reading_from(context, set, "eye level", "V");
  const auto levels =
      value_per_capture(set, "an eye level", [](const disc::Analysis& a) { return a.level.peak_to_peak_v; });
  const Chain chain = chain_of(context, set.signal);
  const auto mean = metrology::mean_of_independent(levels);
  const double value = chain.unloaded(mean.value);

  std::vector<metrology::Contribution> budget{
      mean.contribution("eye level of the captures " + set.name, chain.unloaded(1))};
  add_chain(budget, chain, value, Share::alternating);
  // Two levels, top and bottom, each on a converter step of its own.
  const double moved_v = std::hypot(noise_without_steps_v(set), mean.sd / 2);
  budget.push_back({.source = "conversion of the captures " + set.name,
                    .type = 'B',
                    .shape = metrology::Shape::normal,
                    .effect = std::sqrt(2.0) * conversion_v(set.step_v, moved_v)});
  reading.notes.insert(reading.notes.end(), chain.assumed.begin(), chain.assumed.end());
  complete(reading, value, budget);
  co_return reading;
}

}  // namespace

void register_eye_level(Measures& measures) {
  measures.add({.name = "eye level",
                .about = "level of the eye: settled level of the longest runs, high minus low",
                .parameters = {},
                .example = "- measure: eye level of pressed\n  name it: level_pressed\n  must meet: level\n"},
               {{NameKind::captures},
                {},
                quantity::voltage,
                eye_level,
                [](const bench::BenchFile& bench, const SignalPlace& signal, double value) {
                  return least_budget(bench, signal, value, Share::alternating);
                }});
}

}  // namespace eyelevel::sequence
