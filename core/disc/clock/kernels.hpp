// SPDX-License-Identifier: Apache-2.0
// What is done to every sample and every edge, for the widest vectors that the processor has (chosen at run time).
// Integer results are the same on every processor. Sums of floats differ by the order of addition, at most one part in
// 1e12 of the sum of their sizes; places of crossings by one part in 2^22 of a sample. Codes; places in samples.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace eyelevel::disc::clock::kernels {

template <class T>
struct BlockSums {
  T low{}, high{};
  double sum = 0;
};

// Extremes and sum; at least one sample.
BlockSums<std::int8_t> block_sums(std::span<const std::int8_t> x);
BlockSums<std::int16_t> block_sums(std::span<const std::int16_t> x);
BlockSums<float> block_sums(std::span<const float> x);

inline constexpr std::size_t word = 64;  // samples that are sliced at the same level

// The state of the slicer between two calls.
struct Polarity {
  bool known = false;  // a sample lay beyond the hysteresis
  bool high = false;   // the last one that did lay above
};

// Samples that are the first beyond the hysteresis on the other side. `x` holds levels.size() words; word w is sliced
// at levels[w]. Writes places, `base` being that of x[0], with the levels there and answers how many; for both there
// must be room for all samples and three.
std::size_t confirmed(const std::int8_t* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                      Polarity& polarity, std::uint32_t* places, float* levels_there);
std::size_t confirmed(const std::int16_t* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                      Polarity& polarity, std::uint32_t* places, float* levels_there);
std::size_t confirmed(const float* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                      Polarity& polarity, std::uint32_t* places, float* levels_there);

// Edges whose first sample beyond the hysteresis is known, rising and falling in turn.
struct Confirmed {
  std::span<const std::uint32_t> places;  // begins with that of the edge before
  std::span<const float> levels;          // codes, at each
  bool first_rises = true;
};

// Where each edge crosses its level on a straight line between two samples, if the four samples up to its place say so;
// `step` is the codes between the two. Where they do not, step is 0 and `at` says nothing.
void cross(const std::int8_t* x, const Confirmed& edges, float hysteresis, double* at, float* step);
void cross(const std::int16_t* x, const Confirmed& edges, float hysteresis, double* at, float* step);
void cross(const float* x, const Confirmed& edges, float hysteresis, double* at, float* step);

// Edges that move to other levels.
struct Moved {
  double* at;    // ascending; each lies between the two samples that `step` says
  float* level;  // codes
  float* step;   // codes between the two samples around it, 0 if it crosses more than once
  bool first_rises = true;
};

// Raises the levels by `rises` codes and moves each edge on its straight line, or on that between the two samples
// before or after it if that is as steep as the hysteresis is wide. Writes the indices of those edges that this does
// not do for (they stay as they were) and answers how many; `undone` must have room for all.
std::size_t move(std::span<const std::int8_t> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                 std::uint32_t* undone);
std::size_t move(std::span<const std::int16_t> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                 std::uint32_t* undone);
std::size_t move(std::span<const float> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                 std::uint32_t* undone);

// Moves edge i by `per_code` samples for each code that its level rises, the next one as far the other way.
void slide(std::span<const float> rises, double per_code, double* at, float* level);

// Runs of some length (not 0) that begin with edges of a window: those that begin with the even ones less the others.
struct WindowRuns {
  double samples = 0, bits = 0;
  double count = 0;  // of both
};
// Of each `window` edges (a multiple of 16); the last window may be shorter. Edge k + 1 ends the run of length[k] that
// edge k begins, so that there is one run less than edges.
void sum_runs(std::span<const double> at, std::span<const std::uint8_t> lengths, std::size_t window,
              std::span<WindowRuns> sums);

}  // namespace eyelevel::disc::clock::kernels
