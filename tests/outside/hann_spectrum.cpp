// SPDX-License-Identifier: Apache-2.0
// For hann_spectrum.py: reads numbers from standard input to its end and prints how many of them were looked at, the
// window's constants, and the amplitudes, with every digit.
#include "core/disc/envelope/spectrum.hpp"

#include <iostream>
#include <iterator>

int main() {
  namespace envelope = eyelevel::disc::envelope;
  const std::vector<double> values(std::istream_iterator<double>(std::cin), {});
  const envelope::Spectrum spectrum = envelope::hann_spectrum(values);
  std::cout.precision(17);
  std::cout << spectrum.points << ' ' << envelope::Hann::coherent_gain << ' ' << envelope::Hann::noise_bandwidth_lines
            << ' ' << envelope::Hann::scalloping << '\n';
  for (const double amplitude : spectrum.amplitudes) std::cout << amplitude << '\n';
  return std::cout.flush() ? 0 : 1;
}
