// SPDX-License-Identifier: Apache-2.0
#include "core/base/random.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using eyelevel::base::Random;

TEST_CASE("random: the same seed and name give the same numbers, another name others", "[base]") {
  Random a(7, "noise"), b(7, "noise"), c(7, "hand");
  const auto first = a.bits();
  CHECK(first == b.bits());
  CHECK(first != c.bits());
}

TEST_CASE("random: a draw more in one stream never shifts another", "[base]") {
  Random parent(7);
  const auto before = parent.stream("disc").bits();
  parent.bits();
  CHECK(parent.stream("disc").bits() == before);
}

TEST_CASE("random: normal numbers have mean 0 and standard deviation 1 within four standard errors", "[base]") {
  Random r(1, "normal");
  constexpr int n = 100000;
  double sum = 0, squares = 0;
  for (int i = 0; i < n; ++i) {
    const double x = r.normal();
    sum += x;
    squares += x * x;
  }
  CHECK(std::abs(sum / n) < 4 / std::sqrt(n));
  CHECK(std::abs(squares / n - 1) < 4 * std::sqrt(2.0 / n));
}

TEST_CASE("random: log-normal numbers lie below their 5 and 95 % points as often as they should", "[base]") {
  Random r(1, "log");
  constexpr int n = 20000;
  int below5 = 0, above95 = 0;
  for (int i = 0; i < n; ++i) {
    const double x = r.log_normal_5_95(25, 50);
    below5 += x < 25;
    above95 += x > 50;
  }
  const double tolerance = 4 * std::sqrt(0.05 * 0.95 / n);
  CHECK(std::abs(below5 / double(n) - 0.05) < tolerance);
  CHECK(std::abs(above95 / double(n) - 0.05) < tolerance);
}
