// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/change_point.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::trend::chance_of_largest_t;
using metrology::trend::change_point;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("change point: the handbook's shifted series changed after the twelfth value", "[metrology]") {
  // Data of the NIST/SEMATECH e-Handbook 6.3.2.3 (examples.json "change_point_mean"); computed digits to 1e-8.
  const auto computed = example("change_point_mean").at("computed");
  const auto got = change_point(numbers(example("cusum_nist").at("inputs").at("data")));
  CHECK(got.after == 12);
  CHECK(got.after_by_sums == 12);
  CHECK(got.mean_before == Approx(number(computed.at("mean_before"))).epsilon(1e-8));
  CHECK(got.mean_after == Approx(number(computed.at("mean_after"))).epsilon(1e-8));
  CHECK(got.pooled_sd == Approx(number(computed.at("pooled_s"))).epsilon(1e-8));
  CHECK(got.largest_t == Approx(number(computed.at("max_abs_t"))).epsilon(1e-8));
  CHECK(got.chance < 0.001);
}

TEST_CASE("change point: the chance of a largest t is that of many splits, not of one", "[metrology]") {
  // examples.json "change_point_mean", by another simulation: 3.20 is passed by 5 % of series of 20, 3.99 by 1 %. Four
  // standard errors of 2000 series. Student's own limit 2.10 is passed by far more.
  CHECK(chance_of_largest_t(3.20, 20) == Approx(0.05).margin(4 * std::sqrt(0.05 * 0.95 / 2000)));
  CHECK(chance_of_largest_t(3.99, 20) == Approx(0.01).margin(4 * std::sqrt(0.01 * 0.99 / 2000)));
  CHECK(chance_of_largest_t(2.10, 20) > 0.2);
}

TEST_CASE("change point: a constant series did not change, two constants did", "[metrology]") {
  CHECK(change_point(std::vector(8, 1.2)).chance == 1);
  const auto got = change_point(std::vector{1.2, 1.2, 1.2, 1.3, 1.3, 1.3, 1.3});
  CHECK(got.after == 3);
  CHECK(got.chance < 0.001);
}

TEST_CASE("change point: three values are too few", "[metrology]") {
  CHECK_THROWS_WITH(change_point(std::vector{1.0, 2.0, 3.0}), Catch::Contains("expected 4 or more"));
}
