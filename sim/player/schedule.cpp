// SPDX-License-Identifier: Apache-2.0
#include "sim/player/schedule.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/base/error.hpp"
#include "sim/player/loaded_disc.hpp"

namespace eyelevel::sim {
namespace {

constexpr double forever_s = std::numeric_limits<double>::infinity();

// Standing still from `since_s` on: the turn that ends at `place_s` is read again and again.
Stretch standing(const Segment& segment, double since_s, double place_s, double time_s, const Spiral& spiral) {
  const double turn_place_s = spiral.turn_s(place_s);
  const double turn_s = turn_place_s / segment.speed;
  const double turns = std::max(0.0, std::floor((time_s - since_s) / turn_s));
  return {&segment, since_s + turns * turn_s, since_s + (turns + 1) * turn_s, place_s - turn_place_s};
}

Stretch in_bursts(const Segment& segment, double time_s, const Spiral& spiral) {
  const double period_s = segment.burst_period_s;
  const double cycle = std::max(0.0, std::floor((time_s - segment.from_s) / period_s));
  const double begin_s = segment.from_s + cycle * period_s;
  const double read_s = period_s / 2;
  const double place_s = segment.place_s + cycle * read_s * segment.speed;
  if (time_s < begin_s + read_s) return {&segment, begin_s, begin_s + read_s, place_s};
  Stretch stretch = standing(segment, begin_s + read_s, place_s + read_s * segment.speed, time_s, spiral);
  stretch.until_s = std::min(stretch.until_s, begin_s + period_s);
  return stretch;
}

}  // namespace

Schedule::Schedule() { segments_.push_back({.from_s = -forever_s}); }

void Schedule::cut(double from_s) {
  while (segments_.size() > 1 && segments_.back().from_s >= from_s) segments_.pop_back();
}

void Schedule::append(Segment segment) {
  if (segment.from_s >= off_s_) segment = {.from_s = off_s_};
  if (segment.from_s < segments_.back().from_s)
    throw base::Error(base::ErrorCode::defect, "simulated player: a state would begin before the one ahead of it");
  segments_.push_back(std::move(segment));
}

std::size_t Schedule::index_at(double time_s) const {
  const auto after = std::upper_bound(segments_.begin() + 1, segments_.end(), time_s,
                                      [](double time, const Segment& segment) { return time < segment.from_s; });
  return static_cast<std::size_t>(after - segments_.begin()) - 1;
}

const Segment& Schedule::segment_at(double time_s) const { return segments_[index_at(time_s)]; }

double Schedule::end_of_segment_s(double time_s) const {
  const std::size_t next = index_at(time_s) + 1;
  return next < segments_.size() ? segments_[next].from_s : forever_s;
}

Stretch Schedule::stretch_at(double time_s) const {
  const std::size_t index = index_at(time_s);
  const Segment& segment = segments_[index];
  Stretch stretch{&segment, segment.from_s, forever_s, segment.place_s};
  if (segment.state == PlayerState::paused)
    stretch = standing(segment, segment.from_s, segment.place_s, time_s, segment.disc->spiral());
  else if (segment.state == PlayerState::playing && segment.burst_period_s > 0)
    stretch = in_bursts(segment, time_s, segment.disc->spiral());
  stretch.until_s = std::min(stretch.until_s, end_of_segment_s(time_s));
  return stretch;
}

bool reads_the_disc(PlayerState state) {
  return state == PlayerState::contents || state == PlayerState::playing || state == PlayerState::paused;
}

bool laser_is_lit(PlayerState state) {
  return state == PlayerState::searching || state == PlayerState::tracking_open || state == PlayerState::spin_up ||
         state == PlayerState::seeking || reads_the_disc(state);
}

}  // namespace eyelevel::sim
