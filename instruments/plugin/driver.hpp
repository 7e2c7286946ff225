// SPDX-License-Identifier: Apache-2.0
// An instrument that a plugin drives, for the kinds of driven_kinds(). What a driver is asked, with values in SI units:
//   greet        {resource}                            text: who it is
//   self test    {resource}                            numbers result, 0 when nothing is wrong; none when it cannot
//   set up       multimeter {range, aperture}          numbers range, aperture as read back
//                counter {input, coupling, level, gate}    numbers input, level, gate as read back
//   read                                               a reading in V or Hz
//   make safe
// Every question also has `resource`, as the bench file has it.
#pragma once

#include <memory>

#include "core/bench/bench_file.hpp"
#include "core/bench/instrument.hpp"
#include "core/register/outside.hpp"

namespace eyelevel::plugin {

// Nothing is asked yet: call greet() first. Throws Error(bad_input) when the driver is for another kind.
std::unique_ptr<bench::Instrument> open_driver(std::shared_ptr<const registers::OutsidePart> driver,
                                               const bench::InstrumentEntry& entry, base::Timeline& timeline);

}  // namespace eyelevel::plugin
