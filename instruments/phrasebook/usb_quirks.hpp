// SPDX-License-Identifier: Apache-2.0
// The `usb` group of a phrasebook: what its family needs over USB beyond the standard (transport/usbtmc/quirks.hpp).
#pragma once

#include "core/yaml/key_table.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"
#include "instruments/transport/usbtmc/quirks.hpp"

namespace eyelevel::phrasebook {

yaml::KeyTable usb_table();
// Of a phrasebook that was checked; no group: no quirks.
transport::usbtmc::Quirks read_usb(const yaml::Node& root, yaml::Mistakes& mistakes);

}  // namespace eyelevel::phrasebook
