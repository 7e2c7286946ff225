// SPDX-License-Identifier: Apache-2.0
// Any counter that a phrasebook describes. Contract: core/bench/kind/counter.hpp. One owner, one call at a time.
#pragma once

#include <memory>

#include "core/bench/kind/counter.hpp"
#include "instruments/phrasebook/phrasebook.hpp"
#include "instruments/transport/session.hpp"

namespace eyelevel::phrasebook {

// Throws Error(bad_input) when the phrasebook is for another kind. Nothing is sent yet: call greet() first.
std::unique_ptr<bench::Counter> open_counter(base::Timeline& timeline, const Phrasebook& phrasebook,
                                             std::unique_ptr<transport::Session> session);

}  // namespace eyelevel::phrasebook
