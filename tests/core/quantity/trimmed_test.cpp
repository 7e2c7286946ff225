// SPDX-License-Identifier: Apache-2.0
#include "core/quantity/trimmed.hpp"

#include <catch2/catch.hpp>

using eyelevel::quantity::trimmed;

TEST_CASE("trimmed: white space around a text is taken off, inside it stays", "[quantity]") {
  CHECK(trimmed(" \t1.2  V\r\n") == "1.2  V");
  CHECK(trimmed("x") == "x");
  CHECK(trimmed(" \n").empty());
  CHECK(trimmed("").empty());
}
