// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "tests/sim/trouble/with_trouble.hpp"

using namespace eyelevel;
using test::with;

TEST_CASE("trouble: of the bench, each spoils the oscilloscope and names what shows it", "[sim]") {
  CHECK(with("self-test fails").instrument_of_kind("oscilloscope")->self_test > 0);
  CHECK(with("calibration overdue").instrument_of_kind("oscilloscope")->calibration_due == "2029-12-07");
  CHECK(std::abs(with("clock off").instrument_of_kind("oscilloscope")->scope.clock_off) >= 3e-4);
  const auto troubles = sim::ready_troubles();
  for (const char* name : {"self-test fails", "calibration overdue", "clock off"})
    CHECK_FALSE(troubles.find(name)->call.demand.shown_by.empty());
}
