// SPDX-License-Identifier: Apache-2.0
// Which captures of a series count: those with a locked clock, not clipped, and an I3/I11 that belongs to the others.
// Never by level: the level is what is to be measured, and choosing by it would make a bobbing pickup look steady. A
// defocused moment loses I3 before it loses I11 (each by its own power of the lens's offset), so I3/I11 tells of focus
// and nothing of laser power. Pure; one object per series.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/disc/analysis.hpp"

namespace eyelevel::sequence {

class Settling {
 public:
  void push(const disc::Analysis& analysis);

  // Reasons so far, one per capture in the order of pushing: "" (kept), "no lock", "focus", "clipped". A capture's
  // reason may change while others come, since I3/I11 is compared with all of them.
  std::vector<std::string_view> reasons() const;
  // How many would be kept now.
  std::int64_t kept() const;

 private:
  struct Seen {
    std::string_view reason;
    double ratio = 0;
  };
  double least_ratio() const;

  std::vector<Seen> seen_;
};

}  // namespace eyelevel::sequence
