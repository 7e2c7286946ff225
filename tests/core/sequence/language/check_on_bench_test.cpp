// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string measured =
    test::around(test::capture_step + "  - measure: eye level of pressed\n    must meet: level\n");

}  // namespace

TEST_CASE("check on a bench: a bench that has all that is asked for raises no mistake", "[sequence]") {
  CHECK(test::mistakes_on(test::bench_file(), measured).empty());
}

TEST_CASE("check on a bench: a role that is missing is reported with the nearest one", "[sequence]") {
  auto bench = test::bench_file();
  bench.instruments[0].role = "scoope";
  CHECK(test::mistakes_on(bench, measured) ==
        "test.yaml:4:3: the bench 'test bench' has no 'scope'; did you mean 'scoope'?\n");
}

TEST_CASE("check on a bench: an instrument that only helps may be missing", "[sequence]") {
  auto bench = test::bench_file();
  bench.instruments.pop_back();
  std::string text = measured;
  const std::string needed = "  meter: { kind: multimeter }\n";
  text.replace(text.find(needed), needed.size(), "helps if there:\n" + needed);
  CHECK(test::mistakes_on(bench, text).empty());
}

TEST_CASE("check on a bench: a role of another kind is reported with both kinds", "[sequence]") {
  auto bench = test::bench_file();
  bench.instruments[1].kind = "oscilloscope";
  CHECK(test::mistakes_on(bench, measured) ==
        "test.yaml:5:3: 'meter' is to be of kind multimeter, but on the bench 'test bench' it is of kind oscilloscope; "
        "name an "
        "instrument of that kind in the bench file\n");
}

TEST_CASE("check on a bench: a channel that the bench file does not describe is reported", "[sequence]") {
  auto bench = test::bench_file();
  bench.instruments[0].channels[0].number = 2;
  CHECK(test::mistakes_on(bench, measured) ==
        "test.yaml:7:3: the bench 'test bench' says nothing about scope channel 1; name channel 1 in the bench file "
        "with its "
        "probe\n");
}

TEST_CASE("check on a bench: another probe factor than that of the bench file is caught, not measured", "[sequence]") {
  auto bench = test::bench_file();
  bench.instruments[0].channels[0].probe_factor = 1;
  CHECK(test::mistakes_on(bench, measured) ==
        "test.yaml:12:5: `probe: x10` is asked for, but by the bench file scope channel 1 has a x1 probe; look at the "
        "probe: "
        "write `probe: x1` here, or mend the bench file\n");
}
