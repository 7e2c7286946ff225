// SPDX-License-Identifier: Apache-2.0
#include "core/disc/picture/low_high.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace eyelevel::disc::picture {

LowHigh::LowHigh(const signal::WaveformView& scale)
    : rate_hz_(scale.rate_hz), scale_v_(scale.scale_v), offset_v_(scale.offset_v) {
  stretches_.reserve(points_most);
}

void LowHigh::halve() {
  for (std::size_t i = 0; i < points_most / 2; ++i) {
    const Stretch &a = stretches_[2 * i], &b = stretches_[2 * i + 1];
    stretches_[i] = {std::min(a.low, b.low), std::max(a.high, b.high)};
  }
  stretches_.resize(points_most / 2);
  per_stretch_ *= 2;
}

void LowHigh::take(const signal::CodesView& samples) {
  constexpr double none = std::numeric_limits<double>::infinity();
  std::visit(
      [&](const auto& codes) {
        for (const auto code : codes) {
          if (taken_ == per_stretch_ * stretches_.size()) {
            if (stretches_.size() == points_most) halve();
            if (taken_ == per_stretch_ * stretches_.size()) stretches_.push_back({none, -none});
          }
          ++taken_;
          const auto value = static_cast<double>(code);
          if (!std::isfinite(value)) continue;
          Stretch& last = stretches_.back();
          last.low = std::min(last.low, value);
          last.high = std::max(last.high, value);
        }
      },
      samples);
}

std::vector<LowHighPoint> LowHigh::result() const {
  std::vector<LowHighPoint> points;
  for (std::size_t i = 0; i < stretches_.size(); ++i) {
    if (stretches_[i].low > stretches_[i].high) continue;
    const double a = stretches_[i].low * scale_v_ + offset_v_, b = stretches_[i].high * scale_v_ + offset_v_;
    points.push_back({static_cast<double>(i * per_stretch_) / rate_hz_, std::min(a, b), std::max(a, b)});
  }
  return points;
}

}  // namespace eyelevel::disc::picture
