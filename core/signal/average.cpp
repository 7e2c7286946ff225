// SPDX-License-Identifier: Apache-2.0
#include "core/signal/average.hpp"

#include <fmt/format.h>

#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::signal {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

}  // namespace

void WaveformAverage::push(const WaveformView& waveform) {
  const std::size_t n = waveform.size();
  if (n == 0) refuse("waveform to average holds no samples");
  if (count_ > 0 && n != mean_v_.size()) {
    refuse(fmt::format("waveform {} of the average has {} samples, the first had {}", count_ + 1, n, mean_v_.size()));
  }
  if (count_ > 0 && waveform.rate_hz != rate_hz_) {
    refuse(fmt::format("waveform {} of the average has {} samples per second, the first had {}", count_ + 1,
                       waveform.rate_hz, rate_hz_));
  }
  for (std::size_t i = 0; i < n; ++i) {
    const double v = waveform.volts(i);
    if (!std::isfinite(v)) refuse(fmt::format("sample {} of waveform {} is {}, not a voltage", i, count_ + 1, v));
  }
  if (count_ == 0) {
    mean_v_.assign(n, 0.0);
    rate_hz_ = waveform.rate_hz;
  }
  ++count_;
  const double share = 1 / static_cast<double>(count_);
  std::visit(
      [&](const auto& codes) {
        for (std::size_t i = 0; i < n; ++i) {
          const double v = static_cast<double>(codes[i]) * waveform.scale_v + waveform.offset_v;
          const double before = v - mean_v_[i];
          mean_v_[i] += before * share;
          squares_ += before * (v - mean_v_[i]);
        }
      },
      waveform.codes);
}

Waveform WaveformAverage::result() const {
  if (count_ == 0) refuse("average of no waveforms");
  Waveform result;
  result.rate_hz = rate_hz_;
  std::vector<float> volts(mean_v_.size());
  for (std::size_t i = 0; i < volts.size(); ++i) volts[i] = static_cast<float>(mean_v_[i]);
  result.codes = std::move(volts);
  return result;
}

double WaveformAverage::noise_sd_v() const {
  if (count_ < 2) refuse("noise about an average needs two waveforms or more");
  return std::sqrt(squares_ / (static_cast<double>(count_ - 1) * static_cast<double>(mean_v_.size())));
}

void WaveformAverage::reset() { *this = WaveformAverage(); }

}  // namespace eyelevel::signal
