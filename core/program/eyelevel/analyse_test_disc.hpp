// SPDX-License-Identifier: Apache-2.0
// Which test disc a capture is of: `eyelevel analyse --test-discs FILE`. A disc is known by the mark of its table of
// contents, which a capture of the whole lead-in holds.
#pragma once

#include <optional>
#include <string>

#include "core/bench/test_discs.hpp"
#include "core/disc/analysis.hpp"

namespace eyelevel::program {

struct KnownDisc {
  std::optional<bench::TestDisc> disc;
  std::string why_not;  // a sentence; empty where it is one
};

KnownDisc known_disc(const bench::TestDiscs& discs, const disc::Analysis& a);

}  // namespace eyelevel::program
