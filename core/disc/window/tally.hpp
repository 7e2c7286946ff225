// SPDX-License-Identifier: Apache-2.0
// What the windows of a record add up to. Codes and samples; volts and seconds come at the end (figures.hpp).
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "core/disc/envelope/envelope.hpp"
#include "core/disc/eye/instrument_jitter.hpp"
#include "core/disc/eye/jitter.hpp"
#include "core/disc/eye/levels.hpp"

namespace eyelevel::disc::window {

// Part of a record, in samples from its beginning.
struct Span {
  std::size_t from = 0, to = 0;
};

// Stretches that follow each other; those that touch become one. Only the first few are kept, all are counted.
class Stretches {
 public:
  static constexpr std::size_t kept_most = 8;

  void add(Span span) {
    if (count_ > 0 && span.from <= end_) {
      if (count_ <= kept_most) kept_.back().to = span.to;
    } else if (++count_ <= kept_most) {
      kept_.push_back(span);
    }
    end_ = span.to;
  }
  std::size_t count() const { return count_; }
  const std::vector<Span>& kept() const { return kept_; }

 private:
  std::vector<Span> kept_;
  std::size_t count_ = 0, end_ = 0;
};

struct Tally {
  // Envelope blocks of so many seconds, four to a channel frame at 1x.
  Tally(const eye::Rails& rails, double block_s) : envelope(block_s, 4), levels(rails) {}

  std::size_t samples = 0;
  double sum = 0;                          // of all codes
  std::size_t at_rails = 0, replaced = 0;  // samples at an end of the converter; samples that were no number
  bool any_eye = false;
  std::string refusal;        // why the first window without an eye has none
  double refused_period = 0;  // samples to a channel bit of a clock that was found there; 0 without
  Stretches without_eye, dimmed;
  envelope::EnvelopeSums envelope;       // codes
  double locked = 0;                     // samples inside runs of the code
  double period = 0;                     // samples to a channel bit, of the first window with an eye
  double run_samples = 0, run_bits = 0;  // over runs that are surely right: in a gap the number of bits is a guess
  eye::RunLengthJitter lengths;
  eye::EdgeJitter edges;
  eye::InstrumentJitter instrument;
  eye::LevelSums levels;
  double slice_sum = 0, slice_count = 0;  // levels where the digital sum balances, at each edge
  std::size_t illegal = 0;                // runs shorter than 3T or longer than 11T inside a lock
  std::size_t gaps = 0;                   // longer than 15T
};

}  // namespace eyelevel::disc::window
