// SPDX-License-Identifier: Apache-2.0
// The measures that are shipped: what each is, is said at its function. Values are those of the unloaded pad.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

// `eye level of`: settled level of the longest runs, high minus low, averaged over the kept captures.
void register_eye_level(Measures& measures);
// `d.c. level of`: the mean, of a multimeter's or an oscilloscope's signal (several readings) or of captures.
void register_dc_level(Measures& measures);
// `i3 over i11 of`, `asymmetry of` (ECMA-130 12.2, 12.3): ratios, in which gain and probe cancel.
void register_eye_ratios(Measures& measures);
// `jitter of`: of the lengths of runs, pooled, pits and lands of each length apart.
void register_jitter(Measures& measures);
// `peak to peak of` an averaged triggered waveform: largest less smallest sample of the mean.
void register_peak_to_peak(Measures& measures);

// `probe factor of`, `top flatness of`, `frequency of` an averaged square wave (core/signal/square_wave.hpp); the last
// also of a counter's signal, or of a function generator's, which is the one that it was set to.
void register_square_wave(Measures& measures);
// `noise floor of` an oscilloscope's signal, and `noise share of` it: of the noise that the bench file states.
void register_noise_floor(Measures& measures);
// `ripple with the turns of`, `ripple beside the turns of`: how the level of kept captures moves, over that level.
void register_ripple(Measures& measures);
// `top level of`: settled level of the longest lands, in volts, not counted from dark.
void register_top_level(Measures& measures);
// `output voltage of`, `output current of` a power supply's signal.
void register_output_reading(Measures& measures);

void register_ready_measures(Measures& measures);

}  // namespace eyelevel::sequence
