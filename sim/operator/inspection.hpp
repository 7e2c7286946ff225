// SPDX-License-Identifier: Apache-2.0
// What a person finds who looks at the simulated player, as an answer to a question with choices: from the physics, and
// right. Pure. Not here: slips of whoever looks (simulated_operator.hpp).
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/bench/operator.hpp"
#include "sim/disc/disc.hpp"
#include "sim/player/player.hpp"

namespace eyelevel::sim {

// Empty: nothing of the player is asked for, or nothing that is simulated.
std::optional<std::string> found_by_looking(const bench::Question& question, const Player& player,
                                            const std::vector<std::shared_ptr<const Disc>>& box, double now_s);

}  // namespace eyelevel::sim
