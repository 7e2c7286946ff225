// SPDX-License-Identifier: Apache-2.0
// What is done to every run, for the widest vectors that the processor has (chosen at run time). Values are floats and
// may differ by one part in 2^21 from processor to processor, sums by one part in 2^19 of the sum of their sizes.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "core/disc/eye/runs.hpp"

namespace eyelevel::disc::eye {

// Of values that come one by one.
struct Sums {
  double count = 0, sum = 0, squares = 0;

  void add(double value);
  // Sum of squares about the mean.
  double scatter() const;
};
// By side (low, high) and nominal length.
using SumsByLength = std::array<std::array<Sums, 12>, 2>;

namespace kernels {

// How much longer each run is than its nominal length, in channel bits.
void excess(const Runs& runs, float* out);

// Adds value k to the sums of the length and side of run k.
void add_by_length(std::span<const float> values, std::span<const std::uint8_t> lengths, bool first_high,
                   SumsByLength& sums);
// Adds the values of all runs that are not left out.
void add_all(std::span<const float> values, std::span<const std::uint8_t> lengths, Sums& sums);

// Levels of runs and how far each lies above the slicing level.
struct LevelRows {
  std::array<float, Runs::most / 2 + 64> level, above;  // of every other run, and what is written beyond them
  std::size_t count = 0;
};
// Those of one length: of the runs with even numbers, and of the others. A level is `reference` more than its centre.
struct LevelsOfBoth {
  LevelRows even, odd;
};
void pick_levels(const Runs& runs, std::span<const float> centres, std::span<const std::uint8_t> lengths, int length,
                 float reference, LevelsOfBoth& out);

// The cubic through the four samples around the middle of each run, less `reference`. Samples beyond the ends are taken
// as the nearest four.
void centres(std::span<const std::int8_t> x, const Runs& runs, float reference, float* out);
void centres(std::span<const std::int16_t> x, const Runs& runs, float reference, float* out);
void centres(std::span<const float> x, const Runs& runs, float reference, float* out);

}  // namespace kernels
}  // namespace eyelevel::disc::eye
