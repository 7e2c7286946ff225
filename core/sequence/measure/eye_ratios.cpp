// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <cmath>

#include "core/bench/model_sheet.hpp"
#include "core/metrology/observations.hpp"
#include "core/metrology/type_b.hpp"
#include "core/sequence/measure/chain.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"

namespace eyelevel::sequence {

namespace {

// The run of 3T repeats at the channel rate over six: 0.72 MHz at 1x (ECMA-130 clause 19).
constexpr double channel_bits_per_cycle = 6;
constexpr double usual_channel_rate_hz = 4.3218e6;

// What the pole of source resistance and probe leaves of the amplitude of 3T.
double amplitude_of_3t(const Chain& chain, const CaptureSet& set) {
  const double rate_hz = set.kept.front().analysis.channel_rate_hz.value_or(usual_channel_rate_hz);
  const double f = rate_hz / channel_bits_per_cycle;
  constexpr double two_pi = 6.283185307179586;
  return 1 / std::hypot(1.0, two_pi * f * chain.source_ohm * chain.probe_f);
}

// ECMA-130 speaks of the signal as it comes from the detector, d.c. coupled, before any equaliser.
void require_ratios(const RunContext& context, const CaptureSet& set) {
  if (context.model() && context.model()->pad.point == bench::PadPoint::after_equaliser)
    throw LeftOut{"the pad of this model lies after an equaliser, where the ratios of ECMA-130 do not apply"};
  if (context.is_ac_coupled(set.signal.name))
    throw LeftOut{fmt::format("'{}' is a.c. coupled, where the ratios of ECMA-130 do not apply", set.signal.name)};
}

task<metrology::Reading> i3_over_i11(RunContext& context, const Step&, const MeasureSetting& setting) {
  const CaptureSet& set = context.captures(setting.operand);
  require_ratios(context, set);
  metrology::Reading reading = reading_from(context, set, "i3 over i11", "1");
  const auto values = value_per_capture(set, "I3/I11", [](const disc::Analysis& a) { return a.i3_over_i11; });
  const Chain chain = chain_of(context, set.signal);
  const auto mean = metrology::mean_of_independent(values);
  const double left = amplitude_of_3t(chain, set);
  const double value = mean.value / left;
  std::vector<metrology::Contribution> budget{
      mean.contribution("i3 over i11 of the captures " + set.name, 1 / left),
      metrology::rectangular("pole of pad and probe of " + chain.instrument, value * (1 - left))};
  reading.notes.insert(reading.notes.end(), chain.assumed.begin(), chain.assumed.end());
  complete(reading, value, budget);
  co_return reading;
}

task<metrology::Reading> asymmetry(RunContext& context, const Step&, const MeasureSetting& setting) {
  const CaptureSet& set = context.captures(setting.operand);
  require_ratios(context, set);
  metrology::Reading reading = reading_from(context, set, "asymmetry", "1");
  const auto values = value_per_capture(set, "asymmetry", [](const disc::Analysis& a) { return a.asymmetry; });
  const auto mean = metrology::mean_of_independent(values);
  // The analysis takes more volts for more light; a pad that falls with light turns the sign (12.3 counts in light).
  const double sense = context.model() && !context.model()->pad.light_raises_voltage ? -1 : 1;
  if (!context.model()) reading.notes.push_back("no model sheet: more volts are taken for more light");
  complete(reading, sense * mean.value, {mean.contribution("asymmetry of the captures " + set.name, sense)});
  co_return reading;
}

}  // namespace

void register_eye_ratios(Measures& measures) {
  measures.add({.name = "i3 over i11",
                .about = "amplitude of the shortest runs over that of the longest",
                .parameters = {},
                .example = "- measure: i3 over i11 of pressed\n  name it: ratio_pressed\n"},
               {{NameKind::captures}, {}, quantity::ratio, i3_over_i11});
  measures.add({.name = "asymmetry",
                .about = "offset of the middle of the shortest runs from that of the longest, over their amplitude",
                .parameters = {},
                .example = "- measure: asymmetry of pressed\n  name it: asymmetry_pressed\n"},
               {{NameKind::captures}, {}, quantity::ratio, asymmetry});
}

}  // namespace eyelevel::sequence
