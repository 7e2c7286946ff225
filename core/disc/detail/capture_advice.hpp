// SPDX-License-Identifier: Apache-2.0
// What is wrong with how a record was taken, and what would do: the sample rate that was said against the speeds of
// discs, too low a rate, too short a record. Lengths of frame and subcode block: ECMA-130 clauses 18 and 19.4. Rates in
// samples per second; texts are sentences for the warnings of an analysis, empty where there is nothing to say.
#pragma once

#include <cstddef>
#include <string>

namespace eyelevel::disc::detail {

inline constexpr double channel_rate_1x_hz = 4321800;  // ECMA-130 11.4, 21
inline constexpr double samples_per_bit_least = 1.8;   // below, clock recovery is not promised
inline constexpr double rate_least_hz = samples_per_bit_least * channel_rate_1x_hz;

// A speed of discs (1, 2, 4, ...) where the clock lies within 15 % of one, else the ratio as it is.
struct SpeedFound {
  double speed = 0;
  std::string warning;  // 6 % or more off: names the rates at which the clock would be that of a disc
};

// The clock of a record that is said to have been taken at rate_hz; both above 0.
SpeedFound speed_of(double channel_rate_hz, double rate_hz);

std::string too_low_a_rate(double rate_hz);

// Too short a record for any clock at 1x.
std::string too_short_a_record(std::size_t samples, double rate_hz);

// A record this long holds a whole subcode block wherever it begins.
double surely_a_block_s(double channel_rate_hz);

}  // namespace eyelevel::disc::detail
