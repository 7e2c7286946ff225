// SPDX-License-Identifier: Apache-2.0
// The instruments on this computer's USB, for discovery: what they say in their string descriptors is their identity;
// nothing is claimed and nothing is asked. What cannot be used says why, with the rule to install where rights are
// missing.
#pragma once

#include <vector>

#include "core/base/task.hpp"
#include "instruments/find/sighting.hpp"
#include "instruments/transport/usbtmc/usb.hpp"

namespace eyelevel::find {

Seen collect(const std::vector<transport::usbtmc::FoundInterface>& found);

// Throws TransportError when this computer has no USB that could be used.
task<Seen> usb_instruments();

}  // namespace eyelevel::find
