// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/smooth.hpp"

#include <algorithm>
#include <cmath>
#include <span>

namespace eyelevel::disc::clock {

std::size_t smoothing_width(double samples_per_bit) {
  if (!(samples_per_bit > 2.5) || samples_per_bit > 1e6) return 1;
  return 2 * static_cast<std::size_t>(std::lround((samples_per_bit - 1) / 2)) + 1;
}

std::vector<float> smoothed(const signal::CodesView& codes, std::size_t width) {
  return std::visit(
      [&](const auto& x) {
        std::vector<float> y(x.size());
        const std::size_t n = x.size();
        std::size_t from = 0, to = 0;  // what the sum holds: [from, to)
        double sum = 0;
        for (std::size_t i = 0; i < n; ++i) {
          const std::size_t half = std::min({width / 2, i, n - 1 - i});
          for (; to < i + half + 1; ++to) sum += static_cast<double>(x[to]);
          for (; from < i - half; ++from) sum -= static_cast<double>(x[from]);
          y[i] = static_cast<float>(sum / static_cast<double>(2 * half + 1));
        }
        return y;
      },
      codes);
}

}  // namespace eyelevel::disc::clock
