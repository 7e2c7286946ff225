// SPDX-License-Identifier: Apache-2.0
// What turns of the trimmer really did to the level, for rehearsals that adjust: how far each was asked and came out,
// and the highest level while the player played until the next one. Taken from the player and from what the operator's
// hand did, never from a measurement.
#pragma once

#include <optional>
#include <vector>

#include "sim/operator/simulated_operator.hpp"
#include "sim/player/player.hpp"

namespace eyelevel::sim {

struct TurnDone {
  double asked_deg = 0;  // clockwise positive
  double turned_deg = 0;
  std::optional<double> highest_v;  // empty: it did not play before the next turn
  bool is_as_asked() const { return (asked_deg > 0) == (turned_deg > 0); }
};

// In the order of time; the last one's level until `until_s`.
std::vector<TurnDone> turns_done(const Player& player, const std::vector<SimulatedOperator::Done>& deeds,
                                 double until_s);

// Of turns that went the way they were asked to, or of all; empty without one.
std::optional<double> highest_v(const std::vector<TurnDone>& turns, bool as_asked_only);

}  // namespace eyelevel::sim
