// SPDX-License-Identifier: Apache-2.0
// A turn of a screw in words: "anticlockwise by 18 degrees, about a twentieth of a turn".
#pragma once

#include <string>

namespace eyelevel::guide {

// Of an angle in degrees, whatever its sign: "about a twentieth of a turn".
std::string share_of_a_turn(double angle_deg);
// Clockwise is positive: "anticlockwise by 18 degrees, about a twentieth of a turn".
std::string turn_in_words(double clockwise_deg);

}  // namespace eyelevel::guide
