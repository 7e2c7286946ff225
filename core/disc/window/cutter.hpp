// SPDX-License-Identifier: Apache-2.0
// Cuts a stream of samples into windows. Where the cuts lie depends on the sample rate alone, not on how the samples
// come: blocks of any size give the same windows. What can be looked at where it lies is not copied; at most about two
// windows are held. A record up to one and a half windows long is a single window.
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <vector>

#include "core/disc/window/window.hpp"

namespace eyelevel::disc::window {

// Samples of a core and of the overlap to either side.
struct Lengths {
  std::size_t core = 0, overlap = 0;
};
Lengths lengths_at(double rate_hz);

template <class T>
class Cutter {
 public:
  explicit Cutter(const Lengths& lengths) : lengths_(lengths) {}

  // Calls visit(samples, place) for each window that is complete.
  template <class Visit>
  void take(std::span<const T> block, Visit visit) {
    while (held_.size() + block.size() > wanted()) {
      if (held_.empty()) {
        cut(block, visit);
        block = block.subspan(step());
      } else {
        const std::size_t more = std::min(block.size(), wanted() + 1 - held_.size());
        held_.insert(held_.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(more));
        block = block.subspan(more);
        cut(std::span<const T>(held_), visit);
        held_.erase(held_.begin(), held_.begin() + static_cast<std::ptrdiff_t>(step()));
      }
      advance();
    }
    held_.insert(held_.end(), block.begin(), block.end());
  }

  // The last block, which may be empty, and with it the last window.
  template <class Visit>
  void finish(std::span<const T> block, Visit visit) {
    // As in take, but without copying what stays.
    while (held_.empty() && block.size() > wanted()) {
      cut(block, visit);
      block = block.subspan(step());
      advance();
    }
    if (!held_.empty()) {
      take(block, visit);
      block = held_;
    }
    visit(block, Place{start_, {core_, start_ + block.size()}});
  }

 private:
  // More samples than these and the window before them is not the last.
  std::size_t wanted() const { return core_ - start_ + lengths_.core + lengths_.core / 2 + lengths_.overlap; }
  // From the beginning of this window to that of the next.
  std::size_t step() const { return core_ + lengths_.core - lengths_.overlap - start_; }
  void advance() {
    start_ += step();
    core_ += lengths_.core;
  }
  template <class Visit>
  void cut(std::span<const T> samples, Visit visit) {
    visit(samples.first(core_ - start_ + lengths_.core + lengths_.overlap),
          Place{start_, {core_, core_ + lengths_.core}});
  }

  Lengths lengths_;
  std::vector<T> held_;  // from start_ on
  std::size_t start_ = 0, core_ = 0;
};

}  // namespace eyelevel::disc::window
