// SPDX-License-Identifier: Apache-2.0
// The pictures of `eyelevel analyse --pictures FOLDER`: once it is known where the eye lies, the record is read
// again and its samples are laid upon each other at the decoder's edges; each picture is written as PNG, SVG and PDF.
#pragma once

#include <string>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/program/waveform_file.hpp"

namespace eyelevel::program {

// Makes the folder if need be and answers the files that were written. Without an eye only the envelope is drawn.
// Throws base::Error(bad_input) when the folder cannot be made or a file not be written.
std::vector<std::string> write_pictures(const std::string& folder, const std::string& waveform,
                                        const WaveformReading& reading, const disc::Analysis& a);

}  // namespace eyelevel::program
