// SPDX-License-Identifier: Apache-2.0
// Any switch or relay box that a phrasebook describes. Contract: core/bench/kind/relay_box.hpp. The ways and their
// numbers are the bench file's. One owner, one call at a time.
#pragma once

#include <memory>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/bench/kind/relay_box.hpp"
#include "instruments/phrasebook/phrasebook.hpp"
#include "instruments/transport/session.hpp"

namespace eyelevel::phrasebook {

// Throws Error(bad_input) when the phrasebook is for another kind. Nothing is sent yet: call greet() first.
std::unique_ptr<bench::RelayBox> open_relay_box(base::Timeline& timeline, const Phrasebook& phrasebook,
                                                std::unique_ptr<transport::Session> session,
                                                std::vector<bench::WayEntry> ways);

}  // namespace eyelevel::phrasebook
