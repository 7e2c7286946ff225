// SPDX-License-Identifier: Apache-2.0
#include "core/disc/envelope/spectrum.hpp"

#include <Eigen/Dense>
#include <unsupported/Eigen/FFT>

#include <algorithm>
#include <cmath>
#include <complex>

namespace eyelevel::disc::envelope {

std::size_t fast_length(std::size_t count) {
  std::size_t best = 0;
  for (std::size_t twos = 1; twos <= count; twos *= 2) {
    for (std::size_t threes = twos; threes <= count; threes *= 3) {
      for (std::size_t fives = threes; fives <= count; fives *= 5) best = std::max(best, fives);
    }
  }
  return best;
}

Spectrum hann_spectrum(std::span<const double> values) {
  const std::size_t n = fast_length(values.size());
  if (n < 2) return {};
  const auto count = static_cast<double>(n);
  // About the first value, so that little is rounded where the values swing little about a high mean.
  double sum = 0;
  for (const double v : values.first(n)) sum += v - values[0];
  const double mean = sum / count;
  std::vector<double> windowed(n);
  for (std::size_t i = 0; i < n; ++i) {
    const double w = 0.5 - 0.5 * std::cos(2 * 3.14159265358979323846 * static_cast<double>(i) / count);
    windowed[i] = w * (values[i] - values[0] - mean);
  }
  Eigen::FFT<double> fft;
  std::vector<std::complex<double>> lines;
  fft.fwd(lines, windowed);
  Spectrum spectrum{n, std::vector<double>(n / 2)};
  for (std::size_t k = 0; k < spectrum.amplitudes.size(); ++k) {
    spectrum.amplitudes[k] = 2 * std::abs(lines[k]) / (Hann::coherent_gain * count);
  }
  return spectrum;
}

}  // namespace eyelevel::disc::envelope
