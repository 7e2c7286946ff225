// SPDX-License-Identifier: Apache-2.0
// The truths of player.hpp.
#include <algorithm>
#include <array>
#include <cmath>

#include "sim/player/player.hpp"

namespace eyelevel::sim {
namespace {

constexpr int angles = 32;  // per turn; what happens there are a few harmonics of it
struct SlowPoint {
  double place, weight;  // from the middle in half spans; Simpson's rule
};
constexpr std::array<SlowPoint, 3> slow_points{{{-1, 1.0 / 6}, {0, 4.0 / 6}, {1, 1.0 / 6}}};

}  // namespace

double Player::eye_mean_v(const LoadedDisc& disc, const EyeLight& eye, double dark_v) const {
  auto found = means_.find(disc.key());
  if (found == means_.end()) found = means_.emplace(disc.key(), EyeMean(disc.shared_disc())).first;
  const double y =
      found->second.mean_v({linear_v(eye.land), linear_v(eye.pit)}, eye.i3_over_i11, parameters_.model.saturation_v);
  return parameters_.model.light_raises_voltage ? dark_v + y : dark_v - y;
}

// Averages over whole turns around the middle of each part of the span in which the track was followed; parts weigh as
// long as they last.
std::optional<double> Player::turn_average(double from_s, double until_s, const OfEye& of_eye) const {
  double sum = 0, weights = 0;
  for (double time_s = from_s; time_s <= until_s;) {
    const Segment& now = schedule_.segment_at(time_s);
    const double part_until_s = std::min(until_s, schedule_.end_of_segment_s(time_s));
    if (reads_the_disc(now.state)) {
      const double middle_s = (time_s + part_until_s) / 2;
      const double place_s = schedule_.stretch_at(middle_s).place_at(middle_s);
      const double pace = now.state == PlayerState::playing ? now.speed : 0;
      const double turn_s = now.disc->spiral().turn_s(place_s) / now.speed;
      const double turns = std::max(1.0, std::round((part_until_s - time_s) / turn_s));
      double average = 0;
      for (const SlowPoint& point : slow_points) {
        const double off_s = point.place * turns * turn_s / 2;
        const double light = laser_light_at(middle_s + off_s);
        double turn_sum = 0;
        for (int i = 0; i < angles; ++i)
          turn_sum +=
              of_eye(*now.disc, now.disc->eye(place_s + off_s * pace, (i + 0.5) / angles, light), middle_s + off_s);
        average += point.weight * turn_sum / angles;
      }
      const double weight = std::max(part_until_s - time_s, 1e-12);
      sum += weight * average;
      weights += weight;
    }
    if (part_until_s >= until_s) break;
    time_s = part_until_s;
  }
  if (weights == 0) return std::nullopt;
  return sum / weights;
}

std::optional<double> Player::true_level_v(double from_s, double until_s) const {
  return turn_average(from_s, until_s, [this](const LoadedDisc&, const EyeLight& eye, double) {
    const double middle = (eye.land + eye.pit) / 2;
    const double half = (eye.land - eye.pit) / 2 * settled_share(eye.i3_over_i11);
    const double land_v = pad_v(linear_v(middle + half), 0);
    const double pit_v = pad_v(linear_v(middle - half), 0);
    return std::abs(land_v - pit_v);
  });
}

std::optional<double> Player::true_mean_v(double from_s, double until_s) const {
  return turn_average(from_s, until_s, [this](const LoadedDisc& disc, const EyeLight& eye, double time_s) {
    return eye_mean_v(disc, eye, dark_v_at(time_s));
  });
}

double Player::true_dark_v(double from_s, double until_s) const {
  double sum_v = 0;
  for (const SlowPoint& point : slow_points)
    sum_v += point.weight * dark_v_at((from_s + until_s) / 2 + point.place * (until_s - from_s) / 2);
  return sum_v;
}

}  // namespace eyelevel::sim
