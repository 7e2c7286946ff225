// SPDX-License-Identifier: Apache-2.0
#include <cmath>
#include <numbers>
#include <vector>

#include "core/metrology/turning.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"

namespace eyelevel::sequence {

namespace {

// Levels of the kept captures over the moments at which they were taken, and the swing with the turns in them.
metrology::MeanOverTurns over_turns(const CaptureSet& set) {
  std::vector<double> times_s, levels_v;
  for (const KeptCapture& c : set.kept) {
    if (!c.analysis.level.peak_to_peak_v) continue;
    times_s.push_back((c.from_s + c.until_s) / 2);
    levels_v.push_back(*c.analysis.level.peak_to_peak_v);
  }
  constexpr std::size_t least = 16;  // six parameters are fitted
  if (levels_v.size() < least)
    throw base::Error(base::ErrorCode::bad_answer,
                      "an eye level can be had from too few captures of '" + set.name + "', 16 are the least",
                      "keep more captures");
  return metrology::mean_over_turns(times_s, levels_v);
}

// A sine's peak to peak over its rms.
const double peak_to_peak_of_rms = 2 * std::numbers::sqrt2;

metrology::Reading share(RunContext& context, const CaptureSet& set, const char* measure, double swing_v,
                         const metrology::MeanOverTurns& found, double scatter_v) {
  metrology::Reading reading = reading_from(context, set, measure, "1");
  complete(reading, swing_v / found.mean.value,
           {{.source = std::string(measure) + " of the captures " + set.name,
             .type = 'A',
             .shape = metrology::Shape::normal,
             .effect = scatter_v / found.mean.value,
             .degrees_of_freedom = found.mean.degrees_of_freedom}});
  return reading;
}

task<metrology::Reading> with_the_turns(RunContext& context, const Step&, const MeasureSetting& setting) {
  const CaptureSet& set = context.captures(setting.operand);
  const metrology::MeanOverTurns found = over_turns(set);
  const double scatter_v = 2 * found.mean.sd * std::sqrt(2 / static_cast<double>(found.mean.count));
  co_return share(context, set, "ripple with the turns", 2 * std::hypot(found.once, found.twice), found, scatter_v);
}

// From the scatter about the swing, as if it were one sine; that of the level's own noise is part of it.
task<metrology::Reading> beside_the_turns(RunContext& context, const Step&, const MeasureSetting& setting) {
  const CaptureSet& set = context.captures(setting.operand);
  const metrology::MeanOverTurns found = over_turns(set);
  const double swing_v = peak_to_peak_of_rms * found.mean.sd;
  co_return share(context, set, "ripple beside the turns", swing_v, found,
                  swing_v / std::sqrt(2 * found.mean.degrees_of_freedom));
}

}  // namespace

void register_ripple(Measures& measures) {
  measures.add({.name = "ripple with the turns",
                .about = "swing of the eye level that keeps step with the disc, peak to peak over the level",
                .parameters = {},
                .example = "- measure: ripple with the turns of pressed\n  name it: ripple_pressed\n"},
               {{NameKind::captures}, {}, quantity::ratio, with_the_turns});
  measures.add({.name = "ripple beside the turns",
                .about = "movement of the eye level that does not keep step with the disc, peak to peak over the level",
                .parameters = {},
                .example = "- measure: ripple beside the turns of pressed\n  name it: other_pressed\n"},
               {{NameKind::captures}, {}, quantity::ratio, beside_the_turns});
}

}  // namespace eyelevel::sequence
