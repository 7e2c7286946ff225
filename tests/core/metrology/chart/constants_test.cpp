// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/constants.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::chart::constants_for;

TEST_CASE("chart constants: all of the table", "[metrology]") {
  // control_chart_constants.csv, columns *_computed, samples of 2 to 25; 2e-8 as stated there. The published columns
  // agree but for last digits (D4 of 3, 18, 19, 22; D3 of 19, 22, 24; d3 of 19).
  const auto table = test::table("measurement/control_chart_constants.csv");
  REQUIRE(table.at("n").size() == 24);
  for (std::size_t row = 0; row < table.at("n").size(); ++row) {
    const auto c = constants_for(static_cast<std::size_t>(table.at("n")[row]));
    CAPTURE(table.at("n")[row]);
    CHECK(c.mean_by_range == Approx(table.at("A2_computed")[row]).margin(2e-8));
    CHECK(c.mean_by_sd == Approx(table.at("A3_computed")[row]).margin(2e-8));
    CHECK(c.c4 == Approx(table.at("c4_computed")[row]).margin(2e-8));
    CHECK(c.sd_low == Approx(table.at("B3_computed")[row]).margin(2e-8));
    CHECK(c.sd_high == Approx(table.at("B4_computed")[row]).margin(2e-8));
    CHECK(c.d2 == Approx(table.at("d2_computed")[row]).margin(2e-8));
    CHECK(c.d3 == Approx(table.at("d3_computed")[row]).margin(2e-8));
    CHECK(c.range_low == Approx(table.at("D3_computed")[row]).margin(2e-8));
    CHECK(c.range_high == Approx(table.at("D4_computed")[row]).margin(2e-8));
  }
}

TEST_CASE("chart constants: the mean range of a hundred values", "[metrology]") {
  // Expected range of N normal values (examples.json "normal_range"): 5.015 sigma for 100.
  CHECK(constants_for(100).d2 == Approx(5.015).margin(5e-4));
  CHECK_THROWS_WITH(constants_for(1), Catch::Contains("samples of 1"));
  CHECK_THROWS_AS(constants_for(101), base::Error);
}
