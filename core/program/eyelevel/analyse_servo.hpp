// SPDX-License-Identifier: Apache-2.0
// `eyelevel analyse --signal`: a captured servo signal instead of the eye.
#pragma once

#include <optional>

#include "core/signal/sample_stream.hpp"

namespace eyelevel::program {

enum class CapturedSignal { eye, focus_error, tracking_error };

// Prints the page or the JSON and answers the exit status: 1 where nothing was found, with why.
int analyse_servo(signal::SampleStream& samples, CapturedSignal signal, std::optional<double> reference_v,
                  bool wants_json);

}  // namespace eyelevel::program
