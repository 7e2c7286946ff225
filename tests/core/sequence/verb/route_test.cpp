// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string route = "  - route: pad\n    through: relays\n    within: 5 s\n";

}  // namespace

TEST_CASE("route: the named ways are closed, and open again when the run has closed", "[sequence]") {
  test::FakeBench bench;
  bench.file = test::wide_bench_file();
  CHECK_FALSE(bench.run(test::around_outputs(route)).error);
  CHECK(std::count(bench.calls.names.begin(), bench.calls.names.end(), "close relays") == 1);
  CHECK(bench.outputs.closed.empty());
}

TEST_CASE("route: a way that the bench does not have is told with the nearest one", "[sequence]") {
  std::string text = test::around_outputs(route);
  text.replace(text.find("route: pad"), 10, "route: pat");
  const auto sequence = test::checked(text);
  yaml::Mistakes mistakes("test.yaml");
  sequence::check_on_bench(sequence, test::wide_bench_file(), mistakes);
  REQUIRE(mistakes.size() == 1);
  CHECK(mistakes.list()[0].message == "'relays' of the bench 'test bench' has no way 'pat'");
  CHECK(mistakes.list()[0].suggestion == "did you mean 'pad'?");
}

TEST_CASE("route: only through a relay box, and closing opens it", "[sequence]") {
  CHECK_THAT(test::mistakes_of(test::around_outputs("  - route: pad\n    through: supply\n    within: 5 s\n")),
             Catch::Contains("'supply' is of kind power supply, which has no ways"));
  CHECK_THAT(test::mistakes_of(test::around_outputs(route, "  - make safe: supply\n    within: 5 s\n")),
             Catch::Contains("'relays' is routed here, and `closing` does not make relays safe"));
}
