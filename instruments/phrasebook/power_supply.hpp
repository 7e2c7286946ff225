// SPDX-License-Identifier: Apache-2.0
// Any power supply that a phrasebook describes. Contract: core/bench/kind/power_supply.hpp. The outputs and what may be
// asked of them are the bench file's. One owner, one call at a time.
#pragma once

#include <memory>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/bench/kind/power_supply.hpp"
#include "instruments/phrasebook/phrasebook.hpp"
#include "instruments/transport/session.hpp"

namespace eyelevel::phrasebook {

// Throws Error(bad_input) when the phrasebook is for another kind. Nothing is sent yet: call greet() first.
std::unique_ptr<bench::PowerSupply> open_power_supply(base::Timeline& timeline, const Phrasebook& phrasebook,
                                                      std::unique_ptr<transport::Session> session,
                                                      std::vector<bench::OutputEntry> outputs);

}  // namespace eyelevel::phrasebook
