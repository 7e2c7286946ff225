// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/weighted.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::chart::cumulative_sum;
using metrology::chart::weighted_average;
using test::example;
using test::number;
using test::numbers;

namespace {

// Average number of points until `first_beyond(points)` gives a place, over runs of a shifted standard normal series.
template <typename FirstBeyond>
double average_run(double shift, int runs, FirstBeyond first_beyond) {
  base::Random random(23, "charts that remember");
  double total = 0;
  for (int i = 0; i < runs; ++i) {
    std::vector<double> points;
    for (std::size_t length = 256;; length *= 2) {
      while (points.size() < length) points.push_back(random.normal(shift, 1));
      const std::vector<std::size_t> beyond = first_beyond(points);
      if (beyond.empty()) continue;
      total += static_cast<double>(beyond.front() + 1);
      break;
    }
  }
  return total / runs;
}

}  // namespace

TEST_CASE("weighted average: the handbook's chart is in control", "[metrology]") {
  // NIST/SEMATECH e-Handbook 6.3.2.4 (examples.json "ewma_nist"): averages to 1e-8; late limits 52.5884, 47.4115.
  const auto ewma = example("ewma_nist");
  const auto& inputs = ewma.at("inputs");
  const auto truth = numbers(ewma.at("computed").at("ewma"));
  const auto got = weighted_average(
      numbers(inputs.at("data")),
      {.target = number(inputs.at("target")), .sigma = number(inputs.at("sigma")), .weight = number(inputs.at("lam"))});
  REQUIRE(got.average.size() == truth.size());
  for (std::size_t i = 0; i < truth.size(); ++i) CHECK(got.average[i] == Approx(truth[i]).epsilon(1e-8));
  CHECK(50 + got.half_width.back() == Approx(number(ewma.at("computed").at("ucl"))).epsilon(1e-7));
  CHECK(got.beyond.empty());
}

TEST_CASE("weighted average: limits are narrow at first", "[metrology]") {
  // Formula of the NIST/SEMATECH e-Handbook 6.3.2.4 (examples.json "ewma_exact_limits"); 1e-8.
  const auto limits = example("ewma_exact_limits");
  const auto i = numbers(limits.at("inputs").at("i"));
  const auto truth = numbers(limits.at("computed").at("half_width"));
  const auto got = weighted_average(std::vector(20, 0.0), {.sigma = 1});
  for (std::size_t k = 0; k < i.size(); ++k) {
    CHECK(got.half_width[static_cast<std::size_t>(i[k]) - 1] == Approx(truth[k]).epsilon(1e-8));
  }
}

TEST_CASE("weighted average: average runs with late limits are those of the integral equation", "[metrology]") {
  // examples.json "ewma_arl" (columns weight, width, runs at shifts 0, 0.5, 1, 2); 2000 simulated runs, four standard
  // errors of 2.2 %, run lengths scattering no more than they are long.
  const auto computed = example("ewma_arl").at("computed");
  for (const auto& row : computed.at("rows").as_array()) {
    const auto design = numbers(row);
    const std::vector<double> shifts{0, 0.5, 1, 2};
    for (std::size_t i = 0; i < shifts.size(); ++i) {
      CAPTURE(design[0], design[1], shifts[i]);
      const auto beyond = [&](const std::vector<double>& points) {
        const auto got = weighted_average(points, {.sigma = 1, .weight = design[0], .width = design[1]});
        const double late = design[1] * std::sqrt(design[0] / (2 - design[0]));
        std::vector<std::size_t> places;
        for (std::size_t k = 0; k < points.size(); ++k) {
          if (std::abs(got.average[k]) > late) places.push_back(k);
        }
        return places;
      };
      CHECK(average_run(shifts[i], 2000, beyond) == Approx(design[2 + i]).epsilon(4 / std::sqrt(2000.0)));
    }
  }
}

TEST_CASE("cumulative sum: the handbook's shift is found at the fourteenth group", "[metrology]") {
  // NIST/SEMATECH e-Handbook 6.3.2.3 (examples.json "cusum_nist"): computed sums to 1e-8; the printed ones come from
  // rounded means.
  const auto cusum = example("cusum_nist");
  const auto& inputs = cusum.at("inputs");
  const auto got = cumulative_sum(
      numbers(inputs.at("data")),
      {.target = number(inputs.at("target")), .allowance = number(inputs.at("k")), .decision = number(inputs.at("h"))});
  const auto high = numbers(cusum.at("computed").at("s_hi"));
  const auto low = numbers(cusum.at("computed").at("s_lo"));
  for (std::size_t i = 0; i < high.size(); ++i) {
    CHECK(got.high[i] == Approx(high[i]).margin(1e-9));
    CHECK(got.low[i] == Approx(low[i]).margin(1e-9));
  }
  CHECK(got.beyond.at(0) + 1 == 14);
}

TEST_CASE("cumulative sum: average runs are those of the chain", "[metrology]") {
  // examples.json "cusum_arl": k 0.5, h 4 and 5: 168 and 465 in control, 8.38 and 10.4 at a shift of one sigma.
  const auto computed = example("cusum_arl").at("computed");
  const std::vector<double> h{4, 5};
  for (std::size_t i = 0; i < h.size(); ++i) {
    const auto beyond = [&](const std::vector<double>& points) {
      return cumulative_sum(points, {.allowance = 0.5, .decision = h[i]}).beyond;
    };
    CHECK(average_run(0, 2000, beyond) == Approx(numbers(computed.at("in_control"))[i]).epsilon(4 / std::sqrt(2000.0)));
    CHECK(average_run(1, 2000, beyond) ==
          Approx(numbers(computed.at("shift_1_sigma"))[i]).epsilon(4 / std::sqrt(2000.0)));
  }
}

TEST_CASE("charts that remember: no width and points that are no numbers are refused", "[metrology]") {
  CHECK_THROWS_WITH(weighted_average(std::vector{1.0}, {}), Catch::Contains("sigma 0"));
  CHECK_THROWS_WITH(cumulative_sum(std::vector{std::nan("")}, {.decision = 1}), Catch::Contains("point 0"));
  CHECK_THROWS_WITH(cumulative_sum(std::vector{1.0}, {.allowance = -1, .decision = 1}), Catch::Contains("k -1"));
}
