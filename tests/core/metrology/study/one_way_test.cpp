// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/study/one_way.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/base/error.hpp"
#include "core/base/random.hpp"

using namespace eyelevel;
using metrology::study::Group;
using metrology::study::one_way;

namespace {

// A published exercise with unequal groups: three makes of bulbs, hours (Colorado School of Mines, Probability and
// Statistics, unit 9, table 9.4): V_b 36 with 2 degrees, V_w 36 with 9, F 4.5; F beyond 4.26 (5 %), below 8.02 (1 %).
const std::vector<Group> bulbs{
    {"one", {507, 511, 509}}, {"two", {504, 506, 508, 505, 502}}, {"three", {510, 508, 506, 508}}};

}  // namespace

TEST_CASE("one way: a published table comes out, groups of unequal size included", "[metrology]") {
  const auto got = one_way(bulbs);
  CHECK(got.between_squares == Approx(36).epsilon(1e-12));
  CHECK(got.between_degrees == 2);
  CHECK(got.within_squares == Approx(36).epsilon(1e-12));
  CHECK(got.within_degrees == 9);
  CHECK(got.f == Approx(4.5).epsilon(1e-12));
  CHECK(got.p < 0.05);
  CHECK(got.p > 0.01);
}

// Of the closed form of an F with 2 numerator degrees: p = (1 + 2 F/n)^(-n/2), here 2^(-4.5).
TEST_CASE("one way: the chance of an F with two degrees above is that of its closed form", "[metrology]") {
  CHECK(one_way(bulbs).p == Approx(std::pow(2.0, -4.5)).epsilon(1e-10));
}

// NIST/SEMATECH e-Handbook 7.4.3: resistors at three temperatures; 27.897 of 45.349, F 9.59 (quoted from memory; the
// sums follow from the readings).
TEST_CASE("one way: the handbook's three levels differ", "[metrology]") {
  const std::vector<Group> levels{
      {"1", {6.9, 5.4, 5.8, 4.6, 4.0}}, {"2", {8.3, 6.8, 7.8, 9.2, 6.5}}, {"3", {8.0, 10.5, 8.1, 6.9, 9.3}}};
  const auto got = one_way(levels);
  CHECK(got.between_squares == Approx(27.897).margin(5e-4));
  CHECK(got.between_squares + got.within_squares == Approx(45.349).margin(5e-4));
  CHECK(got.f == Approx(9.59).margin(5e-3));
  CHECK(got.groups[0].is_off());
  CHECK(got.groups[0].difference == Approx(5.34 - 8.14));
}

TEST_CASE("one way: two groups give the t of two samples, squared", "[metrology]") {
  const std::vector<Group> two{{"a", {1, 2, 3}}, {"b", {3, 4, 5, 6}}};
  const auto got = one_way(two);
  // t = (4.5 - 2)/sqrt(7/5 (1/3 + 1/4)), by hand.
  CHECK(got.f == Approx(2.5 * 2.5 / (1.4 * 7 / 12)).epsilon(1e-12));
  CHECK(got.groups[1].difference == Approx(2.5));
  // t(0.9875; 5) 3.163 for two intervals together (Bonferroni): 3.1634 sqrt(1.4 * 7/12)
  CHECK(got.groups[1].half_width == Approx(3.1634 * std::sqrt(1.4 * 7 / 12)).epsilon(1e-4));
}

// Simulated, seed 11: of 2000 sets of four like operators at most 5 % may show one that is off, give or take three
// standard errors (1.5 %).
TEST_CASE("one way: operators who are alike are called so in the stated share of cases", "[metrology]") {
  base::Random random(11, "one way");
  int off = 0, p_small = 0, wide = 0;
  constexpr int sets = 2000;
  for (int i = 0; i < sets; ++i) {
    std::vector<Group> groups;
    for (const char* name : {"a", "b", "c", "d"}) {
      groups.push_back({name, {}});
      for (int k = 0; k < 8; ++k) groups.back().values.push_back(random.normal());
    }
    const auto got = one_way(groups);
    off += std::any_of(got.groups.begin(), got.groups.end(), [](const auto& g) { return g.is_off(); });
    wide += std::any_of(got.groups.begin(), got.groups.end(), [](const auto& g) { return g.scatter_p < 0.05; });
    p_small += got.p < 0.05;
  }
  CAPTURE(off, p_small, wide);
  CHECK(off <= 0.065 * sets);
  CHECK(off >= 0.02 * sets);
  CHECK(p_small == Approx(0.05 * sets).margin(0.015 * sets));
  CHECK(wide <= 0.065 * sets);
  CHECK(wide >= 0.02 * sets);
}

TEST_CASE("one way: who scatters more than all others is told", "[metrology]") {
  const std::vector<Group> groups{{"steady", {1.00, 1.01, 0.99, 1.00, 1.01, 0.99}},
                                  {"calm", {1.01, 0.99, 1.00, 0.99, 1.01, 1.00}},
                                  {"hasty", {0.90, 1.10, 1.05, 0.95, 0.88, 1.12}}};
  const auto got = one_way(groups);
  CHECK(got.groups[2].scatter_p < 0.001);
  CHECK(got.groups[0].scatter_p == 1);
  CHECK_FALSE(got.groups[2].is_off());
}

TEST_CASE("one way: groups without any scatter differ for certain, or not at all", "[metrology]") {
  CHECK(one_way(std::vector<Group>{{"a", {1, 1}}, {"b", {2, 2}}}).p == 0);
  CHECK(one_way(std::vector<Group>{{"a", {1, 1}}, {"b", {1, 1}}}).p == 1);
}

TEST_CASE("one way: too few groups or readings, and what is no number, are refused", "[metrology]") {
  CHECK_THROWS_WITH(one_way(std::vector<Group>{{"a", {1, 2}}}), Catch::Contains("1 groups to compare"));
  CHECK_THROWS_WITH(one_way(std::vector<Group>{{"a", {1, 2}}, {"b", {1}}}), Catch::Contains("group b has 1 readings"));
  CHECK_THROWS_AS(one_way(std::vector<Group>{{"a", {1, 2}}, {"b", {1, std::numeric_limits<double>::quiet_NaN()}}}),
                  base::Error);
}
