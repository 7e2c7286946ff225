// SPDX-License-Identifier: Apache-2.0
// What the simulated physics really did, for each named reading of a run. Taken from the player, never from a
// measurement. Measurand: the unloaded pad, averaged over whole turns of the disc while the reading was taken.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/metrology/reading.hpp"
#include "sim/player/player.hpp"

namespace eyelevel::sim {

// By the reading's name. A reading whose truth the physics does not tell (a measure that no player state belongs to) is
// missing.
std::map<std::string, double> truths_of(const Player& player, const std::vector<metrology::Reading>& readings);

}  // namespace eyelevel::sim
