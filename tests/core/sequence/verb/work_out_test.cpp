// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string measure = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: ";

std::string with(const std::string& steps) {
  return test::around(measure + "a\n" + steps, "  limit: 0.9 V to 1.1 V\n");
}

}  // namespace

TEST_CASE("work out: a reading is made of readings, named and judged", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double t) { return t < 9.5 ? 2.0 : 3.0; };
  const auto result = bench.run(with("  - prompt: go on\n    within: 1 min\n" + measure +
                                     "b\n  - work out: b - a * 100 %\n    name it: c\n    must meet: limit\n"));
  REQUIRE_FALSE(result.error);
  const auto& c = result.readings.at(2);
  CHECK(c.name == "c");
  CHECK(c.value == Approx(1.0001).epsilon(1e-9));
  CHECK(c.unit == "V");
  CHECK(c.measure == "b - a * 100 %");
  CHECK(c.inputs == std::vector<std::string>{"b", "a"});
  CHECK(c.judgement == metrology::Judgement::pass);
}

TEST_CASE("work out: a division by zero stops the run and says what was zero", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(with("  - work out: a / (a - a)\n    name it: c\n"));
  REQUIRE(result.error);
  CHECK_THAT(result.error->message, Catch::Contains("ratio of \"a\" to \"(a - a)\", which is 0"));
}

TEST_CASE("work out: mistakes stand at their word", "[sequence]") {
  CHECK(test::mistakes_of(with("  - work out: a + bb\n    name it: c\n")) ==
        "test.yaml:25:19: unknown name 'bb'; write 'a'\n");
  CHECK_THAT(test::mistakes_of(with("  - work out: a + 3 s\n    name it: c\n")),
             Catch::Contains("25:17: a voltage and a time do not go together here"));
  CHECK_THAT(test::mistakes_of(with("  - work out: 3 V + 2 V\n    name it: c\n")),
             Catch::Contains("25:15: no reading stands in it; name readings of earlier steps"));
  CHECK_THAT(test::mistakes_of(with("  - work out: a / a\n    name it: c\n    must meet: limit\n")),
             Catch::Contains("the limit 'limit' is a voltage"));
}

TEST_CASE("work out: nothing is said of a reading whose own step has mistakes", "[sequence]") {
  const auto mistakes = test::mistakes_of(with(
      "  - measure: d.c. level of nothing\n    within: 20 s\n    name it: b\n  - work out: a + b\n    name it: c\n"));
  CHECK_THAT(mistakes, Catch::Contains("'nothing'"));
  CHECK_THAT(mistakes, !Catch::Contains("unknown name 'b'"));
}
