// SPDX-License-Identifier: Apache-2.0
// The verb; what the measures give is in tests/core/sequence/measure.
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("measure: a reading without a name is recorded under what it is, and not listed", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(test::around("  - measure: d.c. level of dc\n    within: 20 s\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.empty());
  REQUIRE(bench.journal.of<event::Measured>().size() == 1);
  CHECK(bench.journal.of<event::Measured>()[0].reading.name == "d.c. level of dc");
}

TEST_CASE("measure: a multimeter that is too slow runs out of time with what it gave", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(test::around("  - measure: d.c. level of dc\n    over: 10 s\n    within: 1 s\n    name it: a\n"));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::time_out);
  CHECK(result.error->message.find("readings of dc taken") != std::string::npos);
}

TEST_CASE("measure: a reading that is no number is a bad answer", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return std::nan(""); };
  const auto result = bench.run(test::around("  - measure: d.c. level of dc\n    within: 20 s\n    name it: a\n"));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::bad_answer);
  CHECK(result.error->message == "meter gave a reading that is no number");
}
