// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_times.hpp"

#include <catch2/catch.hpp>

#include "tests/core/signal/refusal.hpp"

using namespace eyelevel;

namespace {

// Time i stands in line i + 10.
std::string refusal_of(const std::vector<double>& times_s) {
  signal::CsvTimes times({times_s.size(), times_s.front(), times_s.back(), signal::usual_step_in(times_s)});
  for (std::size_t i = 0; i < times_s.size(); ++i) times.take(times_s[i], i + 10);
  signal::ReadOptions options;
  options.name = "pad.csv";
  const std::string refusal = test::refusal_of([&] { times.require_even(options); });
  CHECK(times.are_even() == (refusal == "was read"));
  return refusal;
}

}  // namespace

TEST_CASE("csv times: the usual step is the median, so that a lost line among few does not move it", "[signal]") {
  CHECK(signal::usual_step_in({0, 1, 2, 4}) == 1);
  CHECK(signal::usual_step_in({3, 5}) == 2);
  CHECK(signal::usual_step_in({0, 0, 1, 2}) == 1);
}

TEST_CASE("csv times: rounding to the printed digit is even", "[signal]") {
  CHECK(refusal_of({0, 0.0033, 0.0067, 0.0100}) == "was read");
  CHECK(refusal_of({-2, 0, 2}) == "was read");
}

TEST_CASE("csv times: the line that departs most is named, not the first that is off its place", "[signal]") {
  // After the 60th the mean is so far off that times before it are out of place, too.
  std::vector<double> times_s;
  for (int i = 0; i < 100; ++i) times_s.push_back(i < 60 ? i : i + 99);
  CHECK_THAT(refusal_of(times_s),
             Catch::Contains("pad.csv:70: time 159 s comes 100 s after the one before, expected 1 s"));
}

TEST_CASE("csv times: steps that are each good but do not add up are uneven", "[signal]") {
  // One half a third longer than the other.
  std::vector<double> times_s{0};
  for (int i = 0; i < 100; ++i) times_s.push_back(times_s.back() + (i < 50 ? 1.0 : 1.3));
  CHECK_THAT(refusal_of(times_s), Catch::Contains("expected 1 s as between most others"));
}

TEST_CASE("csv times: going backwards and not rising are told apart from a lost line", "[signal]") {
  CHECK_THAT(refusal_of({0, 1, 2, 1, 2, 3}), Catch::Contains("pad.csv:13: time goes backwards: 1 s after 2 s"));
  CHECK_THAT(refusal_of({5, 5, 5}), Catch::Contains("pad.csv:11: times run from 5 s to 5 s, expected to rise"));
}
