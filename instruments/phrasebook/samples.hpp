// SPDX-License-Identifier: Apache-2.0
// From the bytes of a definite block to volts: 32-bit IEEE 754 values, least significant byte first (SCPI-99 Vol. 2,
// ch. 9: FORMat REAL,32 and BORDer SWAPped). Pure; one pass.
#pragma once

#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

namespace eyelevel::phrasebook {

// `volts` is resized to bytes.size() / 4, which must be whole. Gives the index of the first value that is no voltage:
// not finite, or one of SCPI's 9.9E37 (infinity) and 9.91E37 (not a number).
std::optional<std::size_t> floats_from(std::string_view bytes, std::vector<float>& volts);

}  // namespace eyelevel::phrasebook
