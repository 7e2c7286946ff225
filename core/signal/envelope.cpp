// SPDX-License-Identifier: Apache-2.0
#include "core/signal/envelope.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/base/error.hpp"

namespace eyelevel::signal {

QuantileEnvelope quantile_envelope(const Histogram& histogram, double p) {
  if (!(p >= 0 && p < 0.5)) {
    throw base::Error(base::ErrorCode::bad_input, fmt::format("quantile envelope at {}, expected 0 to below 0.5", p));
  }
  return {p, quantile_v(histogram, p), quantile_v(histogram, 1 - p)};
}

std::vector<Column> envelope_columns(const WaveformView& waveform, std::size_t columns) {
  const std::size_t n = waveform.size();
  const std::size_t made = std::min(columns, n);
  std::vector<Column> result(made);
  std::visit(
      [&](const auto& codes) {
        for (std::size_t c = 0; c < made; ++c) {
          const auto part = codes.subspan(n / made * c + std::min(c, n % made), n / made + (c < n % made ? 1 : 0));
          const auto [low, high] = std::minmax_element(part.begin(), part.end());
          const double a = static_cast<double>(*low) * waveform.scale_v + waveform.offset_v;
          const double b = static_cast<double>(*high) * waveform.scale_v + waveform.offset_v;
          result[c] = {std::min(a, b), std::max(a, b)};
        }
      },
      waveform.codes);
  return result;
}

}  // namespace eyelevel::signal
