// SPDX-License-Identifier: Apache-2.0
// Any bytes are a record: the first says how they are samples (int8, int16 or float) and at which rate. Analysis must
// answer without a throw, and what it says must hang together.
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <vector>

#include "core/disc/analysis.hpp"

using namespace eyelevel;

namespace {

template <class T>
std::vector<T> samples_of(const std::uint8_t* data, std::size_t size) {
  std::vector<T> samples(size / sizeof(T));
  if (!samples.empty()) std::memcpy(samples.data(), data, samples.size() * sizeof(T));
  return samples;
}

void require(bool holds) {
  if (!holds) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  signal::Waveform wave;
  constexpr double rates_hz[] = {8e6, 20e6, 1e9, 1};
  wave.rate_hz = rates_hz[data[0] >> 2 & 3];
  wave.scale_v = (data[0] & 16) != 0 ? -0.01 : 0.01;
  if ((data[0] & 3) == 0) wave.codes = samples_of<std::int8_t>(data + 1, size - 1);
  if ((data[0] & 3) == 1) wave.codes = samples_of<std::int16_t>(data + 1, size - 1);
  if ((data[0] & 3) >= 2) wave.codes = samples_of<float>(data + 1, size - 1);
  if ((data[0] & 32) != 0) wave.screen = signal::Screen{-0.6, 0.6};
  disc::AnalysisOptions options;
  if ((data[0] & 64) != 0) options.dark_v = 2.0;

  const disc::Analysis a = disc::analyse(wave.view(), options);
  require(a.samples == wave.size());
  require(a.locked_share >= 0 && a.locked_share <= 1);
  require(a.has_eye || (!a.level.peak_to_peak_v && a.subcode.empty() && !a.c1 && !a.warnings.empty()));
  require(!a.level.peak_to_peak_v || *a.level.peak_to_peak_v > 0);
  if (a.has_eye) {
    require(a.frames > 0 && a.channel_rate_hz && *a.channel_rate_hz > 0);
    require(a.c1->words <= a.frames && a.c2->words <= a.c1->words);
    require(a.c1->e11 + a.c1->e21 + a.c1->e31 <= a.c1->words);
  }
  return 0;
}
