// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

const std::string meter = "      - measure: d.c. level of dc\n        within: 20 s\n        name it: a\n";
const std::string scope =
    "      - capture: rf\n        each: 500 us long\n        keep: 16 settled\n        try: at most 40\n"
    "        within: 60 s\n        name it: pressed\n";

std::string with(const std::string& steps, const std::string& after = "") {
  return test::around("  - together:\n" + steps + after);
}

}  // namespace

TEST_CASE("together: both are done, and take the time of the longer one", "[sequence]") {
  const auto time_of = [](const std::string& steps) {
    test::FakeBench bench;
    const auto result = bench.run(steps);
    REQUIRE_FALSE(result.error);
    CHECK(bench.journal.of<event::Measured>().size() == 1);
    return result.closed_s - result.begun_s;
  };
  const auto plain = [](std::string steps) {
    for (std::size_t at = 0; (at = steps.find("\n    ", at)) != std::string::npos; at += 3) steps.erase(at + 1, 4);
    return steps.substr(4);
  };
  const double one_after_the_other = time_of(test::around(plain(meter) + plain(scope)));
  const double at_once = time_of(with(meter + scope));
  CHECK(at_once < one_after_the_other - 0.05);
}

TEST_CASE("together: events of both stand in the journal in the order of their numbers", "[sequence]") {
  test::FakeBench bench;
  REQUIRE_FALSE(bench.run(with(meter + scope)).error);
  std::int64_t last = 0;
  for (const event::Event& e : bench.journal.events) CHECK(e.number == ++last);
}

TEST_CASE("together: results of each are there afterwards", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(with(meter + scope,
                                     "  - measure: eye level of pressed\n    name it: eye\n"
                                     "  - work out: a / eye\n    name it: r\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.size() == 3);
}

TEST_CASE("together: the first that breaks off ends the others, and all is safe", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) -> double { throw base::Error(base::ErrorCode::bad_answer, "no number"); };
  const auto result = bench.run(with(meter + scope));
  REQUIRE(result.error);
  CHECK_THAT(result.error->where, Catch::Contains("measure: d.c. level of dc"));
  const auto broken = bench.journal.of<event::BrokenOff>();
  REQUIRE(broken.size() == 2);
  CHECK_THAT(broken[1].error.message, Catch::Contains("\"measure: d.c. level of dc\", which ran at the same time"));
  CHECK(bench.meter_is_safe);
  CHECK(bench.scope_is_safe);
}

TEST_CASE("together: a stop ends both", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run_stopped_at(std::chrono::milliseconds(300), with(meter + scope));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::stopped);
  CHECK(bench.meter_is_safe);
  CHECK(bench.scope_is_safe);
}

TEST_CASE("together: two questions are asked one after the other", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(with("      - prompt: Left?\n        within: 1 min\n      - prompt: Right?\n        within: 1 min\n"));
  REQUIRE_FALSE(result.error);
  CHECK(bench.journal.of<event::Answered>().size() == 2);
}

TEST_CASE("together: `in this order` makes one of several", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(with("      - in this order:\n          - note: one\n          - note: two\n      - note: three\n"));
  REQUIRE_FALSE(result.error);
  CHECK(bench.journal.of<event::Noted>().size() == 3);
}

TEST_CASE("together: one instrument cannot be used by two, and none may finish the sequence", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with(meter + "      - measure: d.c. level of dc\n        within: 20 s\n")),
             Catch::Contains("'meter' is used by \"measure: d.c. level of dc\" at the same time"));
  CHECK_THAT(test::mistakes_of(with(meter + "      - finish: fail\n")),
             Catch::Contains("one of its steps would finish the sequence"));
}
