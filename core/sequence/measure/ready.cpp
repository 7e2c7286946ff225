// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/measure/ready.hpp"

namespace eyelevel::sequence {

void register_ready_measures(Measures& measures) {
  register_eye_level(measures);
  register_dc_level(measures);
  register_eye_ratios(measures);
  register_jitter(measures);
  register_peak_to_peak(measures);
  register_square_wave(measures);
  register_noise_floor(measures);
  register_output_reading(measures);
  register_ripple(measures);
  register_top_level(measures);
}

}  // namespace eyelevel::sequence
