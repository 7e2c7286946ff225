// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/spares.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "core/base/random.hpp"
#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

namespace {

record::PickupBook pickup(const std::string& part, std::size_t hour, double pickup_h) {
  record::PickupBook book;
  book.name = "PU-" + std::to_string(hour);
  book.part = part;
  book.stays.push_back({"LF2-1", "LF-2", test::played_hour(hour), {}, pickup_h, {}, {}});
  return book;
}

constexpr std::size_t hours_a_year = 8766;

}  // namespace

// By hand: after none in a year the next has none with (1/2)^0.5 = 0.707, one or none with 0.884, two or fewer 0.950.
TEST_CASE("spares: a count after a count is what its closed form says", "[report]") {
  CHECK(count_ahead(0, 1, 1, 0.70) == 0);
  CHECK(count_ahead(0, 1, 1, 0.71) == 1);
  CHECK(count_ahead(0, 1, 1, 0.88) == 1);
  CHECK(count_ahead(0, 1, 1, 0.89) == 2);
}

// Simulated, seed 3: rates over a decade, a count in two years and one in the next; the stated number holds in 95 of
// 100 cases at least (a count is coarse), less three standard errors.
TEST_CASE("spares: what is bought is enough in 95 of 100 years", "[report]") {
  base::Random random(3, "spares");
  const auto poisson = [&](double mean) {
    std::int64_t count = 0;
    for (double left = random.uniform(); left > std::exp(-mean); left *= random.uniform()) ++count;
    return count;
  };
  int enough = 0;
  constexpr int cases = 4000;
  for (int i = 0; i < cases; ++i) {
    const double rate = random.log_normal_5_95(1, 10);
    enough += poisson(rate) <= count_ahead(poisson(2 * rate), 2, 1);
  }
  CHECK(enough >= (0.95 - 3 * std::sqrt(0.95 * 0.05 / cases)) * cases);
}

TEST_CASE("spares: by part, those fitted new counted from the first that the books know", "[report]") {
  const std::vector<record::PickupBook> books{pickup("LF-K1", 0, 0), pickup("LF-K1", 100, 0), pickup("LF-K1", 200, 800),
                                              pickup("LF-K2", 300, 0)};
  const auto needs = spares_of(books, test::played_hour(2 * hours_a_year));
  REQUIRE(needs.size() == 2);
  CHECK(needs[0].part == "LF-K1");
  CHECK(needs[0].pickups == 3);
  CHECK(needs[0].inside == 3);
  CHECK(needs[0].fitted_new == 2);
  CHECK(needs[0].years == Approx(2).epsilon(1e-3));
  REQUIRE(needs[0].a_year);
  CHECK(*needs[0].a_year == Approx(1.25).epsilon(1e-3));
  CHECK(needs[0].at_most == count_ahead(2, needs[0].years, 1));
  CHECK_THAT(spares_table(needs).at(1), Catch::Contains("LF-K1") && Catch::Contains("(95 %)"));
}

TEST_CASE("spares: a book begun today does not predict from minutes", "[report]") {
  const std::vector<record::PickupBook> books{pickup("", 0, 0)};
  const auto needs = spares_of(books, test::played_hour(0));
  CHECK_FALSE(needs.at(0).at_most);
  CHECK_FALSE(needs.at(0).a_year);
  CHECK_THAT(spares_table(needs).at(1), Catch::Contains("too early to say"));
  CHECK_THAT(spares_table(needs).at(1), Catch::Contains("(part not said)"));
}
