// SPDX-License-Identifier: Apache-2.0
// Amplitudes of a spectrum behind the periodic Hann window w(n) = (1 - cos(2 pi n / N)) / 2. Its constants, as F. J.
// Harris defines them (On the use of windows for harmonic analysis with the discrete Fourier transform, Proc. IEEE 66
// (1978), 51-83), follow in closed form: coherent gain, sum w / N = 1/2; equivalent noise bandwidth, N sum w^2 /
// (sum w)^2 = 3/2 lines; scalloping loss, what a sine in the middle between two lines loses, 8 / (3 pi) or 1.42 dB.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace eyelevel::disc::envelope {

struct Hann {
  static constexpr double coherent_gain = 0.5;
  static constexpr double noise_bandwidth_lines = 1.5;
  static constexpr double scalloping = 8 / (3 * 3.14159265358979323846);  // ratio of amplitudes, for many points
};

struct Spectrum {
  std::size_t points = 0;  // that were looked at: the first ones, so many that the transform is fast
  // Of sines, in the unit of the values; line k lies at k / (points * spacing). A mean does not show.
  std::vector<double> amplitudes;
};

// The most points up to `count` whose only prime factors are 2, 3 and 5: from 64 points on a twentieth or less is left.
std::size_t fast_length(std::size_t count);

// Empty below two values.
Spectrum hann_spectrum(std::span<const double> values);

}  // namespace eyelevel::disc::envelope
