// SPDX-License-Identifier: Apache-2.0
// An instrument that a plugin drives, for the kinds of driven_kinds(). What a driver is asked, with values in SI units:
//   greet        {resource}                            text: who it is
//   self test    {resource}                            numbers result, 0 when nothing is wrong; none when it cannot
//   set up       multimeter {range, aperture}          numbers range, aperture as read back
//                counter {input, coupling, level, gate}    numbers input, level, gate as read back
//                power supply {output, voltage, current limit, protection}   those but output as numbers, read back
//                function generator {output, shape, frequency, peak to peak, offset}   text shape, the others as
//                numbers
//   read         multimeter, counter                   a reading in V or Hz
//                power supply {output}                 numbers on, tripped (0 or 1), voltage, current
//   switch on    power supply, function generator {output}   numbers on: 1
//   switch off   the same                              numbers on: 0
//   close only   relay box {ways: "pad, generator"}    text: the ways that are closed, with a comma between
//   closed       relay box                             the same
//   make safe
// An oscilloscope is not driven so: a phrasebook speaks to it, over a transport of a library where it is reached in an
// unusual way.
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
