// SPDX-License-Identifier: Apache-2.0
// Samples to edges. A slicing level follows the middle of the eye; an edge counts once the signal has passed the level
// by the hysteresis, so noise does not cross it twice; its time is where straight lines between the samples cross the
// level (several crossings inside the hysteresis: the time spent below it). Times in samples, levels in codes. The
// exact level, at which the running digital sum is zero, needs the clock: balance.hpp.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "core/disc/clock/survey.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::disc::clock {

// A level at evenly spaced moments, straight lines between them.
struct LevelTrack {
  double first = 0;    // sample of knots[0]
  double spacing = 1;  // samples
  std::vector<double> knots;
  double raised = 0;  // how far all lie above the middle of the envelope

  double at(double sample) const { return at_knot((sample - first) / spacing); }
  double at_knot(double number) const {
    if (knots.size() == 1) return knots.front();
    const double place = std::clamp(number, 0.0, static_cast<double>(knots.size() - 1));
    const auto i = std::min(static_cast<std::ptrdiff_t>(place), static_cast<std::ptrdiff_t>(knots.size()) - 2);
    const double* knot = knots.data() + i;
    return knot[0] + (place - static_cast<double>(i)) * (knot[1] - knot[0]);
  }
  // At evenly spaced samples.
  void along(double sample, double step, std::span<float> levels) const;
};

struct Edges {
  std::vector<double> at;    // ascending; rising and falling in turn
  std::vector<float> level;  // codes, where each was cut
  std::vector<float> step;   // codes, between the samples around it; 0 where it crosses more than once
  bool first_rises = true;
  double slope = 0;  // mean steepness at the crossings, codes per sample

  std::size_t size() const { return at.size(); }
  // The first edge at or after this sample; size() if there is none.
  std::size_t from(double sample) const {
    return static_cast<std::size_t>(std::lower_bound(at.begin(), at.end(), sample) - at.begin());
  }
  bool rises(std::size_t k) const { return ((k & 1) == 0) == first_rises; }
  double run(std::size_t k) const { return at[k + 1] - at[k]; }  // from edge k; it is high if edge k rises
};

// Middle of the envelope, smoothed over dropouts, raised to where half of the samples lie above; by `usual`, codes, if
// that does about as well.
LevelTrack middle_level(const signal::CodesView& codes, const Survey& survey, std::optional<double> usual = {});
// Half width of the band around the level: at least 3.5 standard deviations of the noise where the eye leaves room.
double hysteresis_for(const Survey& survey);

// Samples of a record, to whole blocks of its survey.
struct Part {
  std::size_t from = 0, to = std::numeric_limits<std::size_t>::max();
};

// The edges in a part. A signal that crosses its level more often than every fourth sample is no eye (3T at 1.8 samples
// to a channel bit are 5.4 samples): it has no edges. The vectors of `reuse` are used again: fresh memory costs more
// than what is done with it.
Edges slice(const signal::CodesView& codes, const Survey& survey, const LevelTrack& level, double hysteresis,
            const Part& part = {}, Edges reuse = {});
// Raises the levels of edges from `first` on by so many codes and moves the edges to where the signal crosses them; one
// that does not cross its new level stays as it was. Answers the sum of the steepness, codes per sample, of those whose
// step does not tell it because they cross more than once.
double reslice(const signal::CodesView& codes, std::size_t first, std::span<const float> rises, double hysteresis,
               Edges& edges);
// Looks for the edges at their levels in other samples of the same signal.
void reslice_on(const signal::CodesView& codes, double hysteresis, Edges& edges);

}  // namespace eyelevel::disc::clock
