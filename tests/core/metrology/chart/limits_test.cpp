// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/limits.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::chart::averages;
using metrology::chart::individuals;
using metrology::chart::SpreadBy;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("chart limits: individuals and moving ranges of the handbook's flow rate", "[metrology]") {
  // NIST/SEMATECH e-Handbook 6.3.2.2 (examples.json "imr_flow_rate"); the handbook takes d2 as 1.128, so its 55.8041
  // differs from the exact 55.8024 in the third decimal; exact digits to 1e-8.
  const auto flow = example("imr_flow_rate");
  const auto computed = flow.at("computed");
  const auto got = individuals(numbers(flow.at("inputs").at("data")));
  CHECK(got.place.centre == Approx(number(computed.at("mean"))).epsilon(1e-8));
  CHECK(got.place.high == Approx(number(computed.at("exact_d2").at("ucl"))).epsilon(1e-8));
  CHECK(got.place.low == Approx(number(computed.at("exact_d2").at("lcl"))).epsilon(1e-8));
  CHECK(got.place.high == Approx(number(flow.at("published").at("ucl"))).margin(2e-3));
  CHECK(got.spread.centre == Approx(number(computed.at("mr_bar"))).epsilon(1e-8));
  CHECK(got.spread.low == 0);
  CHECK(got.spread.high == Approx(number(computed.at("mr_ucl"))).margin(1e-3));  // there with 3.267
}

TEST_CASE("chart limits: gear diameters by ranges and by standard deviations", "[metrology]") {
  // Data file of the NIST/SEMATECH e-Handbook (examples.json "gear_chart_and_capability"), computed digits to 1e-8
  // (the limits of ranges, there with constants of six digits, to 1e-8 absolute): batch 5 lies below both lower limits,
  // the range of batch 6 just inside.
  const auto computed = example("gear_chart_and_capability").at("computed");
  const auto data = test::table("measurement/gear_diameter.csv");
  std::vector<std::vector<double>> batches(10);
  for (std::size_t i = 0; i < data.at("batch").size(); ++i) {
    batches.at(static_cast<std::size_t>(data.at("batch")[i]) - 1).push_back(data.at("diameter")[i]);
  }
  const auto by_range = averages(batches, SpreadBy::range);
  CHECK(by_range.place.centre == Approx(number(computed.at("grand_mean"))).epsilon(1e-8));
  CHECK(by_range.place.low == Approx(numbers(computed.at("xbar_limits"))[0]).epsilon(1e-8));
  CHECK(by_range.place.high == Approx(numbers(computed.at("xbar_limits"))[1]).epsilon(1e-8));
  CHECK(by_range.spread.centre == Approx(number(computed.at("Rbar"))).epsilon(1e-8));
  CHECK(by_range.spread.low == Approx(numbers(computed.at("R_limits"))[0]).margin(1e-8));
  CHECK(by_range.spread.high == Approx(numbers(computed.at("R_limits"))[1]).margin(1e-8));
  CHECK(by_range.within_sigma == Approx(number(computed.at("sigma_within_R"))).epsilon(1e-8));
  const auto by_sd = averages(batches, SpreadBy::standard_deviation);
  CHECK(by_sd.place.low == Approx(numbers(computed.at("xbar_limits_from_s"))[0]).epsilon(1e-8));
  CHECK(by_sd.place.high == Approx(numbers(computed.at("xbar_limits_from_s"))[1]).epsilon(1e-8));
  CHECK(by_sd.spread.centre == Approx(number(computed.at("sbar"))).epsilon(1e-8));
  CHECK(by_sd.spread.low == Approx(numbers(computed.at("s_limits"))[0]).epsilon(1e-7));
  CHECK(by_sd.spread.high == Approx(numbers(computed.at("s_limits"))[1]).epsilon(1e-7));
  for (std::size_t i = 0; i < batches.size(); ++i) {
    const auto point = metrology::chart::point_of(batches[i], SpreadBy::range);
    CAPTURE(i);
    CHECK((point.mean < by_range.place.low) == (i == 4));
    CHECK(point.spread < by_range.spread.high);
  }
}

TEST_CASE("chart limits: samples of unequal size and single readings are refused", "[metrology]") {
  CHECK_THROWS_WITH(averages(std::vector<std::vector<double>>{{1, 2, 3}, {1, 2}}, SpreadBy::range),
                    Catch::Contains("sample 1 holds 2 readings, the first 3"));
  CHECK_THROWS_AS(averages({}, SpreadBy::range), base::Error);
  CHECK_THROWS_AS(averages(std::vector<std::vector<double>>{{1}}, SpreadBy::range), base::Error);
  CHECK_THROWS_WITH(individuals(std::vector{1.0}), Catch::Contains("from 1 readings"));
}
