// SPDX-License-Identifier: Apache-2.0
#include "core/disc/servo/stream.hpp"

#include <algorithm>
#include <span>
#include <string>
#include <variant>
#include <vector>

namespace eyelevel::disc::servo {
namespace {

class Parts {
 public:
  explicit Parts(signal::SampleStream& samples) : samples_(samples), part_(samples.about()) {
    constexpr double of_the_low_pass = 1.0 / 8;  // widens it by one part in a hundred
    const double together = of_the_low_pass * low_pass_s * part_.rate_hz;
    if (together >= 2 && together < 1e6) together_ = static_cast<std::size_t>(together);
    part_.rate_hz /= static_cast<double>(together_);
  }

  // The next part, which stays until the next call; of an empty record one without samples, else none after the last.
  std::optional<signal::WaveformView> next() {
    if (ended_) return std::nullopt;
    const bool first = volts_.empty();
    volts_.clear();
    while (volts_.size() < part_most) {
      const signal::CodesView block =
          samples_.next(std::min(signal::SampleStream::block_most, part_most - volts_.size()));
      std::visit([&](const auto& codes) { take(codes); }, block);
      if (ended_) break;
    }
    if (volts_.empty() && !first) return std::nullopt;
    part_.codes = std::span<const float>(volts_);
    return part_;
  }

 private:
  template <class T>
  void take(std::span<const T> codes) {
    ended_ = codes.empty();
    for (const T code : codes) {
      sum_ += static_cast<double>(code);
      if (++summed_ < together_) continue;
      volts_.push_back(static_cast<float>(sum_ / static_cast<double>(together_)));
      sum_ = 0;
      summed_ = 0;
    }
  }

  signal::SampleStream& samples_;
  signal::WaveformView part_;
  std::size_t together_ = 1, summed_ = 0;
  double sum_ = 0;
  std::vector<float> volts_;  // codes, to be exact: the scale is that of the record
  bool ended_ = false;
};

// Everything that is found, without the parts in which hardly anything moves.
template <class Found, class Look>
Sought<std::vector<Found>> found_in(signal::SampleStream& samples, const Look& look) {
  Parts parts(samples);
  std::vector<Found> all;
  std::string why_not;
  double highest = 0;
  while (const auto part = parts.next()) {
    Sought<Found> sought = look(*part);
    if (sought.found) {
      highest = std::max(highest, sought.found->height_v);
      all.push_back(*sought.found);
    } else if (why_not.empty()) {
      why_not = std::move(sought.why_not);
    }
  }
  if (all.empty()) return {{}, std::move(why_not)};
  constexpr double least = 0.25;
  std::erase_if(all, [&](const Found& found) { return found.height_v < least * highest; });
  return {std::move(all), {}};
}

}  // namespace

Sought<SCurve> s_curve(signal::SampleStream& samples, std::optional<double> reference_v) {
  auto parts = found_in<SCurve>(samples, [&](const signal::WaveformView& part) { return s_curve(part, reference_v); });
  if (!parts.found) return {{}, std::move(parts.why_not)};
  SCurve mean;
  for (const SCurve& part : *parts.found) {
    const double n = part.sweeps;
    mean.sweeps += part.sweeps;
    mean.height_v += n * part.height_v;
    mean.symmetry += n * part.height_v * part.symmetry;  // how far up lies above down
    mean.slope_v_per_s += n * part.slope_v_per_s;
    mean.straight_s += n * part.straight_s;
  }
  mean.symmetry /= mean.height_v;
  mean.height_v /= mean.sweeps;
  mean.slope_v_per_s /= mean.sweeps;
  mean.straight_s /= mean.sweeps;
  return {mean, {}};
}

Sought<TrackingSwing> tracking_swing(signal::SampleStream& samples, std::optional<double> reference_v) {
  auto parts = found_in<TrackingSwing>(
      samples, [&](const signal::WaveformView& part) { return tracking_swing(part, reference_v); });
  if (!parts.found) return {{}, std::move(parts.why_not)};
  TrackingSwing mean;
  double whole = 0, seconds = 0, off = 0;  // tracks from the first to the last of each part, and their time
  for (const TrackingSwing& part : *parts.found) {
    mean.tracks += part.tracks;
    mean.height_v += part.tracks * part.height_v;
    whole += part.tracks - 1;
    seconds += (part.tracks - 1) / part.tracks_per_s;
    off += part.tracks * part.height_v * part.balance.value_or(0);
  }
  if (reference_v) mean.balance = off / mean.height_v;
  mean.height_v /= mean.tracks;
  mean.tracks_per_s = whole / seconds;
  return {mean, {}};
}

}  // namespace eyelevel::disc::servo
