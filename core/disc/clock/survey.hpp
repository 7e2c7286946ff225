// SPDX-License-Identifier: Apache-2.0
// A first look at samples, one pass over them: sums, extremes, an envelope in short blocks and a guess of the noise.
// Everything is in codes; volts come at the end of an analysis. Not for levels of the eye: core/disc/eye.
// Samples must be finite (with_finite_samples makes them so).
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::disc::clock {

struct Survey {
  std::size_t samples = 0;
  double low = 0, high = 0;  // extremes
  std::size_t block = 64;    // samples of an envelope block, a multiple of 64; the last block may be shorter
  std::vector<double> block_low, block_high, block_sum;
  // Lower than its surroundings, or next to such a block: a spot, a scratch, lost focus (1), and on the way there (2).
  std::vector<std::uint8_t> block_dimmed;
  double amplitude = 0;  // high minus low that nine of ten blocks stay below
  double noise = 0;      // standard deviation of one sample, too high where there are few samples to a channel bit

  double block_amplitude(std::size_t i) const { return block_high[i] - block_low[i]; }
  std::size_t block_of(std::size_t sample) const { return sample / block; }
  // The eye is closed there: less than a third of the usual height.
  bool is_dropout(std::size_t i) const { return block_amplitude(i) < 0.35 * amplitude; }
  // Share of blocks whose height is neither that of an eye nor that of no signal: beating from track to track.
  double share_between() const;
};

// Samples of an envelope block of a long record; of a rate that is none, the fewest.
std::size_t block_samples(double rate_hz);
// At least 64 samples. The eye is taken to be no lower than `amplitude_least`.
Survey survey(const signal::CodesView& codes, double rate_hz, double amplitude_least = 0);

// Share of samples at or beyond `low` or `high`.
struct AtRails {
  std::size_t low = 0, high = 0;
};
AtRails at_rails(const signal::CodesView& codes, double low, double high);

// Samples that are no number.
std::size_t no_numbers(const signal::CodesView& codes);
// A copy in which each sample that is no number is that before it; empty if all are numbers.
std::optional<std::vector<float>> with_finite_samples(const signal::CodesView& codes);

}  // namespace eyelevel::disc::clock
