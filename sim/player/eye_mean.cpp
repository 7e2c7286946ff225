// SPDX-License-Identifier: Apache-2.0
#include "sim/player/eye_mean.hpp"

#include <algorithm>
#include <cmath>

#include "core/disc/efm/code.hpp"
#include "sim/disc/optics.hpp"
#include "sim/player/pad.hpp"

namespace eyelevel::sim {
namespace {

constexpr int frames = 28;
constexpr std::int64_t into_track = 100;  // sections: past the beginning
constexpr double bits_per_sample = 0.4;
constexpr std::size_t bin_count = 64;
constexpr double lowest = -1.15, highest = 1.15;
constexpr double harmless_ratio = 0.45;  // of the limit; the saturation takes less than 2e-7 there

}  // namespace

EyeMean::EyeMean(const LoadedDisc& disc, const EyeShape& shape) {
  const std::vector<Track>& tracks = disc.disc().contents->tracks;
  const std::int64_t first_bit = tracks.empty() ? 0 : (tracks.front().start + into_track) * section_bits;
  constexpr std::int64_t bits = std::int64_t{frames} * disc::efm::frame_bits;
  ChannelStream stream(disc.disc().contents);
  EyeShape clean = shape;
  clean.edge_jitter_t = 0;
  EyeRenderer renderer(clean);
  std::vector<float> samples(static_cast<std::size_t>(static_cast<double>(bits) / bits_per_sample));
  renderer.render(stream, {.start_bit = static_cast<double>(first_bit), .bits_per_sample = bits_per_sample}, samples);

  std::vector<double> sums(bin_count, 0);
  std::vector<std::size_t> counts(bin_count, 0);
  constexpr double to_bin = static_cast<double>(bin_count) / (highest - lowest);
  for (const float sample : samples) {
    const double place = (static_cast<double>(sample) - lowest) * to_bin;
    const auto bin = static_cast<std::size_t>(std::clamp(place, 0.0, static_cast<double>(bin_count - 1)));
    sums[bin] += static_cast<double>(sample);
    ++counts[bin];
  }
  for (std::size_t i = 0; i < bin_count; ++i) {
    if (counts[i] == 0) continue;
    bins_.push_back({sums[i] / static_cast<double>(counts[i]),
                     static_cast<double>(counts[i]) / static_cast<double>(samples.size())});
  }
  // The running digital sum of the channel code stays near zero: over long times lands and pits differ by their
  // lengthening only, once per run.
  mean_ = -shape.pit_lengthening_t / mean_run_t;
}

double EyeMean::mean_v(double land_v, double pit_v, double limit_v) const {
  const double middle_v = (land_v + pit_v) / 2, half_v = (land_v - pit_v) / 2;
  double sum_v = middle_v + half_v * mean_;
  if (land_v < harmless_ratio * limit_v) return sum_v;
  for (const Bin& bin : bins_) {
    const double linear_v = middle_v + half_v * bin.level;
    if (linear_v > harmless_ratio * limit_v) sum_v += bin.share * (saturated_v(linear_v, limit_v) - linear_v);
  }
  return sum_v;
}

}  // namespace eyelevel::sim
