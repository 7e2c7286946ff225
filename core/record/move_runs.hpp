// SPDX-License-Identifier: Apache-2.0
// Runs go from one store to another.
#pragma once

#include <cstddef>

#include "core/record/store/store.hpp"

namespace eyelevel::record {

struct Moved {
  std::size_t moved = 0;
  std::size_t left = 0;  // not closed: somebody may be writing it
};

// The books are copied: entries are only ever added, and what is there already is passed over. Each run is in `to` as a
// whole before it leaves `from`, and what `to` has already is not taken twice: broken off at any instant, it may be
// done again. Throws Error(bad_input) when `to` has another run of the same name.
Moved move_runs(Store& from, Store& to);

}  // namespace eyelevel::record
