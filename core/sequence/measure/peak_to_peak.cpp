// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <cmath>

#include "core/sequence/measure/chain.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"
#include "core/signal/histogram.hpp"

namespace eyelevel::sequence {

namespace {

task<metrology::Reading> peak_to_peak(RunContext& context, const Step&, const MeasureSetting& setting) {
  const AveragedWaveform& average = context.waveform(setting.operand);
  const signal::Summary summary = signal::summarise(average.mean.view());
  const Chain chain = chain_of(context, average.signal);
  metrology::Reading reading;
  reading.name = "peak to peak of " + average.name;
  reading.measure = "peak to peak";
  reading.unit = "V";
  reading.of = average.signal.name;
  reading.inputs = {average.name};
  reading.count = average.count;
  reading.from_s = average.from_s;
  reading.until_s = average.until_s;
  const double value = chain.unloaded(summary.max_v - summary.min_v);

  const double n = static_cast<double>(average.count);
  std::vector<metrology::Contribution> budget;
  budget.push_back({.source = "noise of the average " + average.name,
                    .type = 'A',
                    .shape = metrology::Shape::normal,
                    .effect = std::sqrt(2.0 / n) * average.noise_v,
                    .degrees_of_freedom = std::max(1.0, n - 1)});
  budget.push_back({.source = "conversion of the average " + average.name,
                    .type = 'B',
                    .shape = metrology::Shape::normal,
                    .effect = std::sqrt(2.0) * conversion_v(average.step_v, average.noise_v)});
  add_chain(budget, chain, value, Share::alternating);
  reading.notes = chain.assumed;
  reading.notes.push_back(
      fmt::format("the largest and smallest of {} averaged samples lie outside the true ones by up to "
                  "{:.1e} V of left-over noise",
                  average.mean.size(), 3 * average.noise_v / std::sqrt(n)));
  complete(reading, value, budget);
  co_return reading;
}

}  // namespace

void register_peak_to_peak(Measures& measures) {
  measures.add({.name = "peak to peak",
                .about = "largest less smallest voltage of an averaged triggered waveform",
                .parameters = {},
                .example = "- measure: peak to peak of edge\n  name it: swing\n"},
               {{NameKind::waveform}, {}, quantity::voltage, peak_to_peak});
}

}  // namespace eyelevel::sequence
