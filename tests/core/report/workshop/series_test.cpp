// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/series.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

namespace {

record::ReadingRow row(int hour, const std::string& model, const std::string& bench, double value) {
  record::ReadingRow one;
  one.begun = test::played_hour(static_cast<std::size_t>(hour));
  one.model = model;
  one.bench = bench;
  one.value = value;
  return one;
}

const std::vector<record::ReadingRow> rows{row(3, "LF-5", "bench 1", 2.0), row(2, "LF-2", "bench 2", 1.3),
                                           row(1, "LF-2", "bench 1", 1.2), row(0, "LF-2", "bench 1", 1.1)};

}  // namespace

TEST_CASE("series: one for each model and bench, oldest first, about the mean of the model", "[report]") {
  const auto list = series_of(rows);
  REQUIRE(list.size() == 3);
  CHECK(list[0].model == "LF-2");
  CHECK(list[0].bench == "bench 1");
  CHECK(list[0].centre.value == Approx(1.2));
  CHECK(list[0].centre.count == 3);
  REQUIRE(list[0].points.size() == 2);
  CHECK(list[0].points[0].value == 1.1);
  CHECK(deviations_of(list[0])[0] == Approx(-0.1));
  CHECK(list[2].model == "LF-5");
  CHECK(list[2].points[0].deviation == 0);
}

TEST_CASE("series: where a model has a reference, deviations are from it", "[report]") {
  const auto list = series_of(rows, {{"LF-2", 1.0}});
  CHECK(list[0].centre.count == 0);
  CHECK(list[1].points[0].deviation == Approx(0.3));
  CHECK(list[2].centre.count == 1);
}

TEST_CASE("series: a deviation is said in per cent, or in its unit near 0", "[report]") {
  CHECK(amount_text(-0.048, {1.2, 0.03, "V"}) == "4 %");
  CHECK(amount_text(0.02, {0.01, 0.03, "V"}) == "20 mV");
  CHECK(amount_text(0.02, {0, 0, "1"}) == "0.02");
}
