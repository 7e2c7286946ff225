// SPDX-License-Identifier: Apache-2.0
#include "core/signal/converter_step.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace eyelevel::signal {
namespace {

// Distances below this share of the span are rounding of float volts, not steps: 2^-20, where a float has 24 bits and
// the finest converters of oscilloscopes 16.
constexpr double rounding_share = 1.0 / 1048576;

double smallest_distance(std::span<const float> values, std::size_t looked_at) {
  std::vector<float> some(values.begin(),
                          values.begin() + static_cast<std::ptrdiff_t>(std::min(looked_at, values.size())));
  std::erase_if(some, [](float v) { return !std::isfinite(v); });
  if (some.size() < 2) return 0;
  std::sort(some.begin(), some.end());
  const double least = rounding_share * (static_cast<double>(some.back()) - static_cast<double>(some.front()));
  double step = 0;
  for (std::size_t i = 1; i < some.size(); ++i) {
    const double distance = static_cast<double>(some[i]) - static_cast<double>(some[i - 1]);
    if (distance > least && (step == 0 || distance < step)) step = distance;
  }
  return step;
}

}  // namespace

double converter_step_v(const WaveformView& waveform, std::size_t looked_at) {
  if (const auto* floats = std::get_if<std::span<const float>>(&waveform.codes))
    return smallest_distance(*floats, looked_at) * std::abs(waveform.scale_v);
  return waveform.size() < 2 ? 0 : std::abs(waveform.scale_v);
}

}  // namespace eyelevel::signal
