// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/jitter.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "core/base/random.hpp"
#include "tests/support/run_row.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

eye::Run run_of(double length_t, int nominal, bool high, double period = 4.6277) {
  return {1000, 1000 + length_t * period, static_cast<float>(period), 0, nominal, high};
}

eye::Jitter jitter_of(const std::vector<eye::Run>& runs) {
  eye::RunLengthJitter jitter;
  support::RunRow(runs).give([&](const eye::Runs& some) { jitter.take(some); });
  return jitter.result();
}

}  // namespace

TEST_CASE("jitter: each group is taken about its own mean, so a level or length that is off does not count", "[disc]") {
  std::vector<eye::Run> runs;
  base::Random random(8, "jitter");
  for (int i = 0; i < 20000; ++i) {
    const int n = 3 + static_cast<int>(random.below(9));
    const bool high = i % 2 == 0;
    const double deviation = (high ? 0.2 : -0.2) + 0.02 * (n - 7);
    runs.push_back(run_of(n + deviation + random.normal(0, 0.05), n, high));
  }
  const eye::Jitter jitter = jitter_of(runs);
  REQUIRE(jitter.all);
  CHECK(*jitter.all == Approx(0.05).epsilon(0.02));  // standard deviation of 20 000 values: 0.5 %
  std::int64_t count = 0;
  for (std::size_t n = 3; n <= 11; ++n) {
    CHECK(*jitter.of_length[n] == Approx(0.05).epsilon(0.08));
    count += jitter.runs[n];
  }
  CHECK(count == 20000);
}

TEST_CASE("jitter: groups are pooled by count", "[disc]") {
  // 3T: two runs with variance 0.01; 4T: four with variance 0.04. (2 x 0.01 + 4 x 0.04) / 6 = 0.03.
  std::vector<eye::Run> runs = {run_of(2.9, 3, true), run_of(3.1, 3, true)};
  for (const double off : {-0.2, 0.2, -0.2, 0.2}) runs.push_back(run_of(4 + off, 4, false));
  const eye::Jitter jitter = jitter_of(runs);
  CHECK(*jitter.of_length[3] == Approx(0.1));
  CHECK(*jitter.of_length[4] == Approx(0.2));
  CHECK(*jitter.all == Approx(std::sqrt(0.03)));
}

TEST_CASE("jitter: each length and side has its count, mean length error and scatter", "[disc]") {
  const std::vector<eye::Run> runs = {run_of(3.1, 3, true), run_of(3.3, 3, true), run_of(2.9, 3, false)};
  const eye::Jitter jitter = jitter_of(runs);
  CHECK(jitter.high[3].count == 2);
  CHECK(*jitter.high[3].length_error == Approx(0.2).margin(1e-6));  // the period is a float
  CHECK(*jitter.high[3].jitter == Approx(0.1).margin(1e-6));
  CHECK(jitter.low[3].count == 1);
  CHECK(*jitter.low[3].length_error == Approx(-0.1).margin(1e-6));
  CHECK_FALSE(jitter.low[3].jitter);
  CHECK(jitter.low[4].count == 0);
  CHECK_FALSE(jitter.low[4].length_error);
}

TEST_CASE("jitter: lengths are counted in the local clock", "[disc]") {
  std::vector<eye::Run> runs;
  for (const double period : {4.5, 4.6, 4.7, 4.8}) runs.push_back(run_of(5, 5, true, period));
  CHECK(*jitter_of(runs).of_length[5] == Approx(0).margin(1e-6));
}

TEST_CASE("jitter: a single run has none", "[disc]") {
  const eye::Jitter jitter = jitter_of({run_of(3, 3, true)});
  CHECK_FALSE(jitter.of_length[3]);
  CHECK_FALSE(jitter.all);
  CHECK(jitter.runs[3] == 1);
}
