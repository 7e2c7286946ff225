// SPDX-License-Identifier: Apache-2.0
#include "core/disc/picture/eye_fold.hpp"

#include <algorithm>
#include <cmath>
#include <type_traits>
#include <variant>

namespace eyelevel::disc::picture {

namespace {

constexpr std::size_t rows_most = 256;

}  // namespace

EyeFold::EyeFold(const signal::WaveformView& scale, double low_v, double high_v)
    : scale_v_(scale.scale_v), offset_v_(scale.offset_v) {
  const bool is_codes = !std::holds_alternative<std::span<const float>>(scale.codes);
  const double span = std::max(high_v - low_v, 1e-9);
  density_.step_v = span / static_cast<double>(rows_most);
  density_.low_v = low_v;
  if (is_codes) {  // a row that holds a code more than its neighbours would show as a stripe
    const double code = std::abs(scale_v_);
    density_.step_v = code * std::max(1.0, std::ceil(density_.step_v / code));
    density_.low_v = offset_v_ + code * (std::floor((low_v - offset_v_) / code) - 0.5);
  }
  density_.rows = static_cast<std::size_t>(std::ceil((high_v - density_.low_v) / density_.step_v));
  density_.rows = std::clamp<std::size_t>(density_.rows, 1, rows_most + 2);
  density_.counts.assign(density_.rows * EyeDensity::columns, 0);
}

void EyeFold::take(const signal::CodesView& samples, std::span<const eye::Run> runs) {
  const auto rows = static_cast<double>(density_.rows);
  const double per_code = scale_v_ / density_.step_v;
  const double base = (offset_v_ - density_.low_v) / density_.step_v;
  std::visit(
      [&](const auto& codes) {
        const auto count = static_cast<double>(codes.size());
        for (const eye::Run& run : runs) {
          const double period = run.period;
          if (!std::isfinite(run.start) || !std::isfinite(period) || !(period > 0)) continue;
          const double left = run.start - period * EyeDensity::bits_before;
          const double from = std::max(0.0, std::ceil(left));
          const double until = std::min(count, run.start + period * EyeDensity::bits_after);
          if (!(from < until)) continue;
          const double columns_per_sample = EyeDensity::columns_per_bit / period;
          for (auto i = static_cast<std::size_t>(from); static_cast<double>(i) < until; ++i) {
            const double row = static_cast<double>(codes[i]) * per_code + base;
            if (!(row >= 0 && row < rows)) continue;
            const auto column = static_cast<std::size_t>((static_cast<double>(i) - left) * columns_per_sample);
            if (column >= EyeDensity::columns) continue;
            ++density_.counts[static_cast<std::size_t>(row) * EyeDensity::columns + column];
          }
          ++density_.edges;
        }
      },
      samples);
}

}  // namespace eyelevel::disc::picture
