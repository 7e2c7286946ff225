// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

const std::string measured = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: mean\n";
const std::string limits = "  wide: 2 V to 3 V\n  high: at least 2.6 V\n";

}  // namespace

TEST_CASE("judge: a reading of an earlier step is held against a limit, and the event says so", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(test::around(measured + "  - judge: mean\n    must meet: wide\n", limits));
  REQUIRE_FALSE(result.error);
  CHECK(result.judgement == Judgement::pass);
  CHECK(result.readings.at(0).judgement == Judgement::pass);
  const auto judged = bench.journal.of<event::Judged>();
  REQUIRE(judged.size() == 1);
  CHECK(judged[0].reading == "mean");
  CHECK(judged[0].limit.at_most == 3.0);
}

TEST_CASE("judge: what does not meet goes to otherwise, and the run fails", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(
      test::around(measured + "  - judge: mean\n    must meet: high\n    otherwise:\n      - note: too low\n", limits));
  CHECK(result.judgement == Judgement::fail);
  CHECK(bench.journal.of<event::Noted>().at(0).text == "too low");
}
