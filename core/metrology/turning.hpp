// SPDX-License-Identifier: Apache-2.0
// The mean, over whole turns, of a quantity that swings with a turning disc. Once-around, twice-around (an eccentric
// disc moves the lens to either side) and a slow drift are fitted beside the mean by least squares, at the rate of
// turns that leaves least; so neither a span that is no whole number of turns nor readings that keep step with the turn
// move it. A swing counts as found when chance would leave as little in one series of a thousand (F test over the
// independent rates of the span). Values in the caller's unit. Not for captures: those fall at random moments
// (observations.hpp).
#pragma once

#include <optional>
#include <span>

#include "core/metrology/observations.hpp"

namespace eyelevel::metrology {

// Turns per second that are looked for. Usual: a disc at 1x, 198 to 581 turns a minute with some to spare (worked out
// from ECMA-130: 1.2 to 1.4 m/s at 23 to 58 mm).
struct TurnRates {
  double least_hz = 3.2;
  double most_hz = 10;
};

struct MeanOverTurns {
  // Uncertainty of the fitted mean from what the fit leaves, correlation among that counted (effective_count).
  MeanOfObservations mean;
  std::optional<double> turns_per_s;  // empty: no swing stands out
  // Amplitudes of the swing once and twice around, 0 where none stands out; each of their two parts scatters by
  // sqrt(2 / count) times mean.sd, what is left beside the swing.
  double once = 0, twice = 0;
};

// Ten readings or more; times in s, ascending. Below ten, or over less than one turn of the slowest rate,
// mean_of_observations(). Error(bad_input) on two spans of different lengths, fewer than two values, or a value that is
// not finite. Cost: some hundred passes over the values.
MeanOverTurns mean_over_turns(std::span<const double> times_s, std::span<const double> values, TurnRates rates = {});

}  // namespace eyelevel::metrology
