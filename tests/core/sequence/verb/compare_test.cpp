// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

sequence::RunResult compared(const std::string& as, const std::string& limits) {
  test::FakeBench bench;
  bench.meter_v = [](double t) { return t < 9.5 ? 2.0 : 3.0; };
  const std::string measure = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: ";
  return bench.run(test::around(measure + "a\n  - prompt: go on\n    within: 1 min\n" + measure +
                                    "b\n  - compare: b with a\n    as: " + as +
                                    "\n    name it: c\n    must meet: limit\n",
                                limits));
}

}  // namespace

TEST_CASE("compare: a difference keeps the unit and names what it was made of", "[sequence]") {
  const auto result = compared("difference", "  limit: 0.9 V to 1.1 V\n");
  REQUIRE_FALSE(result.error);
  const auto& c = result.readings.at(2);
  CHECK(c.value == Approx(1.0001).epsilon(1e-9));
  CHECK(c.unit == "V");
  CHECK(c.measure == "difference of");
  CHECK(c.inputs == std::vector<std::string>{"b", "a"});
  CHECK(c.from_s == Approx(result.readings[0].from_s));
  CHECK(c.until_s == Approx(result.readings[1].until_s));
  CHECK(c.judgement == metrology::Judgement::pass);
}

TEST_CASE("compare: a ratio has no unit, and the first is over the second", "[sequence]") {
  const auto result = compared("ratio", "  limit: at most 1.4\n");
  REQUIRE_FALSE(result.error);
  const auto& c = result.readings.at(2);
  CHECK(c.value == Approx(1.5));
  CHECK(c.unit == "1");
  CHECK(c.measure == "ratio of");
  CHECK(c.judgement == metrology::Judgement::fail);
}
