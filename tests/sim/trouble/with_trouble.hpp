// SPDX-License-Identifier: Apache-2.0
// A unit of the small bench with one trouble, by name.
#pragma once

#include <string>

#include "sim/trouble/trouble.hpp"
#include "tests/support/small_bench.hpp"

namespace eyelevel::test {

inline sim::UnitMake with(const std::string& trouble) {
  auto make = sim::draw_unit(1, {}, small_bench());
  base::Random random(1, trouble);
  sim::ready_troubles().find(trouble)->call.apply(make, random);
  return make;
}

}  // namespace eyelevel::test
