// SPDX-License-Identifier: Apache-2.0
// Levels of the eye: the settled level of the longest runs (11T), high and low, and the level at the centre of the
// shortest (3T). ECMA-130 2nd ed. 12.1, figure 6. Each level is the mean over runs of the level at the run's centre.
// All in codes; which side is light is not known here.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

#include "core/disc/eye/runs.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::disc::eye {

struct Level {
  double mean = 0;
  double standard_error = 0;  // of the mean, from the scatter between runs; 0 for a single run
  std::size_t runs = 0;
};

struct EyeLevels {
  std::optional<Level> i11_high, i11_low;
  std::optional<Level> i3_high, i3_low;
  std::optional<Level> i4_high, i4_low;  // centre of 4T runs: as high as 11T where an amplifier is at its limit
  // Mean level at the centre, by nominal length: of 4T to 10T runs up to about 256 of each, spread over the record.
  std::array<std::optional<double>, 12> low{}, high{};
  std::optional<double> noise;               // standard deviation of a settled sample about its run's level
  std::size_t left_out = 0;                  // 11T runs far from the others around them
  double clipped_high = 0, clipped_low = 0;  // share of the settled samples at or beyond the rails
};

// Codes at the ends of the converter.
struct Rails {
  double low = 0, high = 0;
};

// `counts` are the runs of each nominal length and side.
struct RunCounts {
  std::array<std::int64_t, 12> low{}, high{};
};

EyeLevels eye_levels(const signal::CodesView& codes, std::span<const Run> runs, const Rails& rails,
                     const RunCounts& counts);

}  // namespace eyelevel::disc::eye
