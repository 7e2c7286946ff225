// SPDX-License-Identifier: Apache-2.0
#include <algorithm>
#include <cmath>
#include <optional>

#include "core/metrology/observations.hpp"
#include "core/metrology/type_b.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"

namespace eyelevel::sequence {

namespace {

// What the oscilloscope adds at most, over all captures (rms).
double share_of_instrument_s(const CaptureSet& set) {
  double squares = 0, count = 0;
  for (const KeptCapture& c : set.kept)
    if (c.analysis.jitter_of_instrument_ns) {
      squares += *c.analysis.jitter_of_instrument_ns * *c.analysis.jitter_of_instrument_ns * 1e-18;
      ++count;
    }
  return count > 0 ? std::sqrt(squares / count) : 0;
}

task<metrology::Reading> jitter(RunContext& context, const Step&, const MeasureSetting& setting) {
  const CaptureSet& set = context.captures(setting.operand);
  metrology::Reading reading = reading_from(context, set, "jitter", "s");
  const auto values = value_per_capture(set, "jitter", [](const disc::Analysis& a) -> std::optional<double> {
    if (!a.jitter_all_ns) return std::nullopt;
    return *a.jitter_all_ns * 1e-9;
  });
  const auto mean = metrology::mean_of_independent(values);
  // Between all that the instrument may add and nothing of it.
  const double instrument = share_of_instrument_s(set);
  const double least = std::sqrt(std::max(0.0, mean.value * mean.value - instrument * instrument));
  const double value = (mean.value + least) / 2;
  std::vector<metrology::Contribution> budget{mean.contribution("jitter of the captures " + set.name)};
  if (mean.value > least)
    budget.push_back(metrology::rectangular("noise and sampling of " + set.signal.role, (mean.value - least) / 2));
  complete(reading, value, budget);
  co_return reading;
}

}  // namespace

void register_jitter(Measures& measures) {
  measures.add({.name = "jitter",
                .about = "standard deviation of the lengths of runs about their group's mean",
                .parameters = {},
                .example = "- measure: jitter of pressed\n  name it: jitter_pressed\n"},
               {{NameKind::captures}, {}, quantity::time, jitter});
}

}  // namespace eyelevel::sequence
