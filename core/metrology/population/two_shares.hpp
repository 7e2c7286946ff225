// SPDX-License-Identifier: Apache-2.0
// Whether two shares differ by more than chance: R. A. Fisher's exact test of a table of two by two, which counts how
// probable it is to draw a table as unlikely as this one, or less likely, from the same margins. Exact in few units,
// where intervals of each share say too much. All counts together are bounded by what a workshop can have.
#pragma once

#include <cstdint>

namespace eyelevel::metrology::population {

struct Counted {
  std::int64_t successes = 0;
  std::int64_t trials = 0;  // at least the successes
};

// Two-sided, 0..1; 1 where either has no trials. Of many thousands the normal approximation, which is as good there.
double chance_of_difference(const Counted& a, const Counted& b);

}  // namespace eyelevel::metrology::population
