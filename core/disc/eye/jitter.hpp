// SPDX-License-Identifier: Apache-2.0
// Jitter of run lengths, edge to edge, in units of the local clock: standard deviation of pits and lands of each
// nominal length about their own mean, pooled by count (18 groups in all). Compact-disc practice; ECMA-130 has no such
// limit. Not the position jitter of ECMA-130 12.5.1.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

#include "core/disc/eye/runs.hpp"

namespace eyelevel::disc::eye {

// In channel bits. Index 3 to 11 is the nominal length.
struct Jitter {
  std::optional<double> all;
  std::array<std::optional<double>, 12> of_length{};
  std::array<std::int64_t, 12> runs{};
};

// A group needs two runs.
Jitter run_length_jitter(std::span<const Run> runs);

}  // namespace eyelevel::disc::eye
