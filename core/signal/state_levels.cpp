// SPDX-License-Identifier: Apache-2.0
#include "core/signal/state_levels.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/base/error.hpp"

namespace eyelevel::signal {

namespace {

[[noreturn]] void refuse(const char* message) { throw base::Error(base::ErrorCode::bad_input, message); }

struct Window {
  double mean = 0;
  double midpoint = 0;
};

Window narrowest_half(std::span<const double> sorted) {
  const std::size_t held = sorted.size() / 2 + 1;
  std::size_t best = 0;
  double best_width = sorted[held - 1] - sorted[0];
  for (std::size_t i = 1; i + held <= sorted.size(); ++i) {
    const double width = sorted[i + held - 1] - sorted[i];
    if (width < best_width) {
      best = i;
      best_width = width;
    }
  }
  double sum = 0;
  for (std::size_t i = best; i < best + held; ++i) sum += sorted[i];
  return {sum / static_cast<double>(held), (sorted[best] + sorted[best + held - 1]) / 2};
}

}  // namespace

StateLevels state_levels_by_mode(const Histogram& histogram) {
  if (histogram.counts.size() < 2) refuse("all samples have one level: there are no two states");
  const auto middle = histogram.counts.begin() + static_cast<std::ptrdiff_t>((histogram.counts.size() + 1) / 2);
  const auto low = std::max_element(histogram.counts.begin(), middle);
  const auto high = std::max_element(middle, histogram.counts.end());
  const auto centre = [&](auto bin) {
    return histogram.centre_v(static_cast<std::size_t>(bin - histogram.counts.begin()));
  };
  return {centre(low), centre(high)};
}

StateLevels state_levels_by_mode(const WaveformView& waveform, std::size_t bins) {
  return state_levels_by_mode(histogram(waveform, bins));
}

Shorth state_levels_by_shorth(std::span<const double> values) {
  if (values.empty()) refuse("state levels of no values");
  for (const double v : values) {
    if (!std::isfinite(v)) refuse("state levels of values that are not all finite");
  }
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  const double split = (sorted.front() + sorted.back()) / 2;
  const auto border = std::upper_bound(sorted.begin(), sorted.end(), split);
  if (border == sorted.end()) refuse("all samples have one level: there are no two states");
  const Window low = narrowest_half({sorted.begin(), border});
  const Window high = narrowest_half({border, sorted.end()});
  return {{low.mean, high.mean}, {low.midpoint, high.midpoint}};
}

}  // namespace eyelevel::signal
