// SPDX-License-Identifier: Apache-2.0
// The table of likelihoods against drawn units, on other seeds than those it was counted from. A simulator's figures.
// EYELEVEL_DIAGNOSED=1000 takes so many units of each cause instead of a few, and prints the figures.
#include "tests/rehearsal/diagnosis/score.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>

using namespace eyelevel;

namespace {

double share(int of, const test::Score& s) { return static_cast<double>(of) / s.units; }

std::string in_words(const test::Score& s) {
  std::string told = fmt::format("{} units\nchecks first two sure-and-wrong don't-know\n", s.units);
  for (std::size_t i = 0; i < s.first.size(); ++i)
    told += fmt::format("{} {:.3f} {:.3f} {:.3f} {:.3f}\n", i, share(s.first[i], s), share(s.among_two[i], s),
                        share(s.sure_and_wrong[i], s), share(s.dont_know[i], s));
  return told + s.table_by_cause;
}

// What a share that holds may fall short by in so few units: two standard deviations.
double scatter(double wanted, const test::Score& s) { return 2 * std::sqrt(wanted * (1 - wanted) / s.units); }

test::Score scored(test::Mix mix) {
  const char* wish = std::getenv("EYELEVEL_DIAGNOSED");
  constexpr std::uint64_t seed = 90001;
  CAPTURE(seed);
  const test::Score s = test::score(diagnosis::standard_table(), mix, 22 * (wish ? std::atoi(wish) : 25), seed);
  if (wish) WARN(in_words(s));
  return s;
}

void check_found(const test::Score& s, std::size_t checks, double first, double among_two) {
  INFO(in_words(s));
  CHECK(share(s.first[checks], s) >= first - scatter(first, s));
  CHECK(share(s.among_two[checks], s) >= among_two - scatter(among_two, s));
}

}  // namespace

TEST_CASE("diagnosis: the cause is found at once, and after at most five checks, as often as is asked for",
          "[rehearsal]") {
  const test::Score s = scored(test::Mix::even);
  check_found(s, 0, 0.75, 0.85);
  check_found(s, 5, 0.92, 0.96);
  INFO(in_words(s));
  for (const int wrong : s.sure_and_wrong) CHECK(share(wrong, s) <= 0.02 + scatter(0.02, s));
}

TEST_CASE("diagnosis: in the workshop's mix of causes they are found as often", "[rehearsal]") {
  const test::Score s = scored(test::Mix::workshop);
  check_found(s, 0, 0.75, 0.85);
  check_found(s, 5, 0.92, 0.96);
}
