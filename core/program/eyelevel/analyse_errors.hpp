// SPDX-License-Identifier: Apache-2.0
// What `eyelevel analyse` says of errors, of the sectors of a data track and of the sound of an audio track: keys of
// the JSON, lines of the page, and the WAV file. Not for the eye: analyse.cpp.
#pragma once

#include <boost/json/object.hpp>
#include <string>

#include "core/disc/analysis.hpp"

namespace eyelevel::program {

void put_errors(boost::json::object& object, const disc::Analysis& a, const disc::CircStrategy& strategy);
void print_errors(const disc::Analysis& a, const disc::CircStrategy& strategy);

// Why there is no sound to be written, as a sentence; empty where there is some.
std::string why_no_sound(const disc::Analysis& a);
// Writes the sound, of which there must be some, as WAV and answers what was written as a sentence. Throws
// base::Error(bad_input) when the file is the waveform itself or cannot be written.
std::string write_sound(const std::string& path, const std::string& waveform, const disc::Analysis& a);

}  // namespace eyelevel::program
