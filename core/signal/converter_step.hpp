// SPDX-License-Identifier: Apache-2.0
// The step of the converter behind a record: the volts of one code for integer codes; for floats, which come from an
// instrument that scaled its codes itself, the smallest distance between two values that occur.
#pragma once

#include "core/signal/waveform.hpp"

namespace eyelevel::signal {

// Volts; 0 when the record holds fewer than two different values. At most `looked_at` samples are looked at: in a
// moving signal they hold neighbouring codes many times over, so that the smallest distance is one step and not
// several.
double converter_step_v(const WaveformView& waveform, std::size_t looked_at = 8192);

}  // namespace eyelevel::signal
