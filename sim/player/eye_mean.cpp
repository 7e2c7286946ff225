// SPDX-License-Identifier: Apache-2.0
#include "sim/player/eye_mean.hpp"

#include <algorithm>
#include <cmath>

#include "core/disc/efm/code.hpp"
#include "sim/disc/channel_stream.hpp"
#include "sim/disc/optics.hpp"
#include "sim/disc/renderer.hpp"
#include "sim/player/pad.hpp"

namespace eyelevel::sim {
namespace {

constexpr int frames = 84;
constexpr std::int64_t into_track = 100;  // sections: past the beginning
constexpr double bits_per_sample = 0.6;
constexpr std::size_t bin_count = 64;
constexpr double lowest = -1.15, highest = 1.15;
constexpr double harmless_ratio = 0.45;   // of the limit; the saturation takes less than 2e-7 there
constexpr double mean_ratio_step = 0.02;  // of I3/I11; straight lines between
constexpr double bins_ratio_step = 0.1;   // the saturation hangs less on the shape

}  // namespace

double EyeMean::mean_at_step(std::int64_t step) {
  const auto found = means_.find(step);
  if (found != means_.end()) return found->second;
  const double sigma_t = blur_of_i3_over_i11(static_cast<double>(step) * mean_ratio_step);
  // The running digital sum of the channel code stays near zero: over long times lands and pits differ by their
  // lengthening only, once per run.
  const double mean = -pit_lengthening_of_asymmetry(disc_->asymmetry, sigma_t) / mean_run_t;
  return means_.emplace(step, mean).first->second;
}

double EyeMean::mean(double i3_over_i11) {
  const double place = i3_over_i11 / mean_ratio_step;
  const auto below = static_cast<std::int64_t>(std::floor(place));
  return std::lerp(mean_at_step(below), mean_at_step(below + 1), place - std::floor(place));
}

const std::vector<EyeMean::Bin>& EyeMean::bins_at_step(std::int64_t step) {
  const auto found = bins_.find(step);
  if (found != bins_.end()) return found->second;

  EyeShape shape;
  shape.sigma_t = blur_of_i3_over_i11(static_cast<double>(step) * bins_ratio_step);
  shape.pit_lengthening_t = pit_lengthening_of_asymmetry(disc_->asymmetry, shape.sigma_t);
  const std::vector<Track>& tracks = disc_->contents->tracks;
  const std::int64_t first_bit = tracks.empty() ? 0 : (tracks.front().start + into_track) * section_bits;
  ChannelStream stream(disc_->contents);
  std::vector<float> samples(static_cast<std::size_t>(frames * disc::efm::frame_bits / bits_per_sample));
  EyeRenderer(shape).render(stream, {.start_bit = static_cast<double>(first_bit), .bits_per_sample = bits_per_sample},
                            samples);

  std::vector<double> sums(bin_count, 0);
  std::vector<std::size_t> counts(bin_count, 0);
  constexpr double to_bin = static_cast<double>(bin_count) / (highest - lowest);
  for (const float sample : samples) {
    const double place = (static_cast<double>(sample) - lowest) * to_bin;
    const auto bin = static_cast<std::size_t>(std::clamp(place, 0.0, static_cast<double>(bin_count - 1)));
    sums[bin] += static_cast<double>(sample);
    ++counts[bin];
  }
  std::vector<Bin> filled;
  for (std::size_t i = 0; i < bin_count; ++i) {
    if (counts[i] == 0) continue;
    filled.push_back({sums[i] / static_cast<double>(counts[i]),
                      static_cast<double>(counts[i]) / static_cast<double>(samples.size())});
  }
  return bins_.emplace(step, std::move(filled)).first->second;
}

double EyeMean::mean_v(const Levels& levels, double i3_over_i11, double limit_v) {
  const double middle_v = (levels.land_v + levels.pit_v) / 2, half_v = (levels.land_v - levels.pit_v) / 2;
  const double linear_mean_v = middle_v + half_v * mean(i3_over_i11);
  if (levels.land_v < harmless_ratio * limit_v) return linear_mean_v;
  const auto lost_v = [&](std::int64_t step) {
    double sum_v = 0;
    for (const Bin& bin : bins_at_step(step)) {
      const double linear_v = middle_v + half_v * bin.level;
      if (linear_v > harmless_ratio * limit_v) sum_v += bin.share * (linear_v - saturated_v(linear_v, limit_v));
    }
    return sum_v;
  };
  const double place = i3_over_i11 / bins_ratio_step;
  const auto below = static_cast<std::int64_t>(std::floor(place));
  return linear_mean_v - std::lerp(lost_v(below), lost_v(below + 1), place - std::floor(place));
}

}  // namespace eyelevel::sim
