// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/tally.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::disc;

TEST_CASE("stretches: those that touch are one", "[disc]") {
  window::Stretches stretches;
  stretches.add({10, 20});
  stretches.add({20, 30});
  stretches.add({31, 40});
  REQUIRE(stretches.kept().size() == 2);
  CHECK(stretches.kept()[0].from == 10);
  CHECK(stretches.kept()[0].to == 30);
  CHECK(stretches.kept()[1].to == 40);
}

TEST_CASE("stretches: only the first few are kept, all are counted", "[disc]") {
  window::Stretches stretches;
  for (std::size_t i = 0; i < 100; ++i) {
    stretches.add({10 * i, 10 * i + 5});
    stretches.add({10 * i + 5, 10 * i + 6});
  }
  CHECK(stretches.count() == 100);
  REQUIRE(stretches.kept().size() == window::Stretches::kept_most);
  CHECK(stretches.kept().back().from == 70);
  CHECK(stretches.kept().back().to == 76);
}
