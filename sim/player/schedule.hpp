// SPDX-License-Identifier: Apache-2.0
// What the player does when: a list of segments in time, each one state, and within a segment the place on the disc
// that is read. The past stays as it was, the future is what follows if nobody touches anything. Not here: why one
// state follows another (player.cpp). Times are seconds of the Timeline; places are seconds of playing at 1x from
// absolute time 00:00:00.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <vector>

#include "sim/player/servo.hpp"

namespace eyelevel::sim {

class LoadedDisc;

struct Segment {
  PlayerState state = PlayerState::off;
  double from_s = 0;
  double place_s = 0;         // at the beginning
  double speed = 1;           // of the channel, 1 = 1x
  double burst_period_s = 0;  // above zero: half of each period reads, half stands still
  std::uint64_t key = 0;      // for what is random within the segment
  std::shared_ptr<const LoadedDisc> disc = nullptr;
};

// A part of a segment through which the place runs on without a jump.
struct Stretch {
  const Segment* segment = nullptr;
  double from_s = 0;
  double until_s = 0;
  double place_s = 0;  // at from_s
  double place_at(double time_s) const { return place_s + (time_s - from_s) * segment->speed; }
};

class Schedule {
 public:
  Schedule();
  // Forgets everything from this moment on.
  void cut(double from_s);
  // Must not begin before the last segment. What would begin when the player has gone off does not.
  void append(Segment segment);
  // From then on it is off, whatever is appended; until stays_on().
  void goes_off_at(double time_s) { off_s_ = time_s; }
  void stays_on() { off_s_ = std::numeric_limits<double>::infinity(); }

  const Segment& segment_at(double time_s) const;
  double end_of_segment_s(double time_s) const;  // infinity for the last
  // Playing, paused and standing bursts jump back one turn at the end of each turn; the disc's spiral gives its length.
  Stretch stretch_at(double time_s) const;
  double last_s() const { return segments_.back().from_s; }

 private:
  std::size_t index_at(double time_s) const;
  std::vector<Segment> segments_;
  double off_s_ = std::numeric_limits<double>::infinity();
};

bool reads_the_disc(PlayerState state);  // the eye is there and the track is followed
bool laser_is_lit(PlayerState state);

}  // namespace eyelevel::sim
