// SPDX-License-Identifier: Apache-2.0
// The serial ports of this computer that somebody plugged in. What is behind one is known only by asking, and bytes
// that nobody expects may do harm there (a printer, a boot loader), so they are asked only on request.
#pragma once

#include <filesystem>

#include "instruments/find/sighting.hpp"

namespace eyelevel::find {

// Adapters by the names that stay with them (dev/serial/by-id), without those by their device names (ttyUSB0, ttyACM0).
// `to_be_asked`: as sightings; else as what cannot be used yet.
Seen serial_ports(const std::filesystem::path& dev, bool to_be_asked);

}  // namespace eyelevel::find
