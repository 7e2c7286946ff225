// SPDX-License-Identifier: Apache-2.0
#include "core/report/plot.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::report;

TEST_CASE("ticks: round values within the range, not too many", "[report]") {
  CHECK(tick_labels(ticks(0.83, 2.41, 8)) ==
        std::vector<std::string>{"1.0", "1.2", "1.4", "1.6", "1.8", "2.0", "2.2", "2.4"});
  CHECK(tick_labels(ticks(-1, 1, 4)) == std::vector<std::string>{"-1.0", "-0.5", "0.0", "0.5", "1.0"});
  CHECK(tick_labels(ticks(0, 600, 6)) == std::vector<std::string>{"0", "100", "200", "300", "400", "500", "600"});
  CHECK(ticks(1, 1, 5).empty());
  CHECK(ticks(0, 1, 0).empty());
  for (const double span : {1e-6, 0.03, 7.0, 4e5}) {
    for (int most = 2; most < 12; ++most) {
      const auto list = ticks(0.37 * span, 1.37 * span, most);
      CHECK(list.size() <= static_cast<std::size_t>(most) + 1);
      for (const double t : list) CHECK((t > 0.369 * span && t < 1.371 * span));
    }
  }
}

TEST_CASE("axis: maps values to the paper, upwards too", "[report]") {
  const Axis axis{1.0, 2.0, 100, 20};
  CHECK(axis(1.0) == 100);
  CHECK(axis(2.0) == 20);
  CHECK(axis(1.5) == Approx(60));
}
