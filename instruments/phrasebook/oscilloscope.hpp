// SPDX-License-Identifier: Apache-2.0
// Any oscilloscope that a phrasebook describes. Contract: core/bench/kind/oscilloscope.hpp. A sweep that was set and
// proved is not set again for the next capture, so that a capture costs two messages. One owner, one call at a time.
#pragma once

#include <memory>

#include "core/bench/kind/oscilloscope.hpp"
#include "instruments/phrasebook/phrasebook.hpp"
#include "instruments/transport/session.hpp"

namespace eyelevel::phrasebook {

// Throws Error(bad_input) when the phrasebook is for another kind. Nothing is sent yet: call greet() first.
std::unique_ptr<bench::Oscilloscope> open_oscilloscope(base::Timeline& timeline, const Phrasebook& phrasebook,
                                                       std::unique_ptr<transport::Session> session);

}  // namespace eyelevel::phrasebook
