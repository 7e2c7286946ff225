// SPDX-License-Identifier: Apache-2.0
#include "core/quantity/counted.hpp"

#include <catch2/catch.hpp>

using eyelevel::quantity::counted;

TEST_CASE("counted: one thing has no plural s, none and several have", "[quantity]") {
  CHECK(counted(0, "sample") == "0 samples");
  CHECK(counted(1, "sample") == "1 sample");
  CHECK(counted(2, "sample pair") == "2 sample pairs");
}
