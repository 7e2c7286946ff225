// SPDX-License-Identifier: Apache-2.0
// Discs and players for the tests of the simulated player, without chance where a test needs to know the truth.
#pragma once

#include <memory>

#include "sim/disc/disc.hpp"
#include "sim/player/parameters.hpp"

namespace eyelevel::test {

inline std::shared_ptr<const sim::Contents> contents(const sim::ContentsWish& wish = {}) {
  return std::make_shared<const sim::Contents>(sim::draw_contents(wish, base::Random(5, "contents")));
}

// Flat, centred, clean: level and mean are the same at every angle.
inline sim::Disc flat_disc(sim::DiscKind kind = sim::DiscKind::pressed) {
  sim::Disc disc;
  disc.kind = kind;
  disc.contents = contents();
  disc.asymmetry = 0;
  disc.jitter_ns = 0;
  disc.noise = 0;
  disc.eccentricity_um = 0;
  disc.warp_mm = 0;
  disc.light_once_around = 0;
  return disc;
}

inline std::shared_ptr<const sim::Disc> shared(const sim::Disc& disc) {
  return std::make_shared<const sim::Disc>(disc);
}

}  // namespace eyelevel::test
