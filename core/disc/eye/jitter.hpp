// SPDX-License-Identifier: Apache-2.0
// Jitter of run lengths, edge to edge, in units of the local clock: standard deviation of pits and lands of each
// nominal length about their own mean, pooled by count (18 groups in all). Compact-disc practice; ECMA-130 has no such
// limit. And jitter of edges against the recovered clock. Neither is the position jitter of ECMA-130 12.5.1.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>

#include "core/disc/eye/run_kernels.hpp"
#include "core/disc/eye/runs.hpp"

namespace eyelevel::disc::eye {

// Runs of one nominal length and one side. In channel bits.
struct RunGroup {
  std::int64_t count = 0;
  std::optional<double> length_error;  // mean length minus the nominal one
  std::optional<double> jitter;        // standard deviation about the mean; needs two runs
};

// In channel bits. Index 3 to 11 is the nominal length.
struct Jitter {
  std::optional<double> all;
  std::array<std::optional<double>, 12> of_length{};
  std::array<std::int64_t, 12> runs{};
  std::array<RunGroup, 12> low{}, high{};  // in code, as Run::high
};

// How far edges lie from the recovered clock: standard deviation of their lateness, in channel bits. The clock follows
// what is slower than clock::loop_bandwidth_hz. Takes the runs of a record part by part.
class EdgeJitter {
 public:
  void take(const Runs& runs);
  // Needs two edges.
  std::optional<double> result() const;

 private:
  Sums late_;
};

// Takes the runs of a record part by part.
class RunLengthJitter {
 public:
  void take(const Runs& runs);
  // A group needs two runs.
  Jitter result() const;

 private:
  SumsByLength excess_{};  // of length minus n, channel bits
};

}  // namespace eyelevel::disc::eye
