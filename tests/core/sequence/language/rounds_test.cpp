// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/rounds.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

yaml::Node text(const std::string& words) {
  yaml::Node node;
  node.shape = yaml::Shape::text;
  node.mark = {1, 1};
  node.text = words;
  node.is_plain = true;
  return node;
}

}  // namespace

TEST_CASE("rounds: how often, and how often at most", "[sequence]") {
  yaml::Mistakes mistakes("x");
  CHECK(sequence::read_rounds(text("6 times"), mistakes)->rounds.times == 6);
  CHECK_FALSE(sequence::read_rounds(text("1 time"), mistakes)->is_at_most);
  CHECK(sequence::read_rounds(text("at most 3 times"), mistakes)->is_at_most);
  CHECK(mistakes.fine());
}

TEST_CASE("rounds: at fixed times, as many as begin before the whole time is over", "[sequence]") {
  yaml::Mistakes mistakes("x");
  const auto soak = sequence::read_rounds(text("every 1 min for 8 h"), mistakes);
  REQUIRE(soak);
  CHECK(soak->rounds.times == 480);
  CHECK(soak->rounds.every == 1min);
  CHECK(sequence::read_rounds(text("every 4 s for 10 s"), mistakes)->rounds.times == 3);
}

TEST_CASE("rounds: how often a step is tried again has a bound", "[sequence]") {
  const auto mistakes = [](const std::string& again) {
    return test::mistakes_of(
        test::around("  - measure: d.c. level of dc\n    within: 20 s\n    try again: " + again + "\n"));
  };
  CHECK_THAT(mistakes("until it works"), Catch::Contains("expected `at most` at 'until it works'"));
  CHECK_THAT(mistakes("at most 1000 times"), Catch::Contains("expected a number from 1 to 100"));
  CHECK_THAT(mistakes("at most 2 times, after 5 V"), Catch::Contains("expected a time"));
  CHECK_THAT(mistakes("at most 1 time"), Catch::Equals(""));
}
