// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/reachable.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

// Half-widths of the test bench 1.5 %, 1 % and 0.5 % of 1.2 V, rectangular: 95 % of their sum within about 26 mV.
const std::string narrow = "  level: 1.20 V ± 1 %\n";
const std::string cannot =
    "no reading can be shown to meet 'level' (1.20 V ± 1 %): the instruments of the bench 'test bench' alone leave ± "
    "24 mV; widen the limit, or use better instruments\n";
const std::string measure_step = test::capture_step + "  - measure: eye level of pressed\n";
const std::string named_step = measure_step + "    name it: now\n";

std::string on_bench(const std::string& steps, const std::string& limits = narrow) {
  return test::mistakes_on(test::bench_file(), test::around(steps, limits));
}

}  // namespace

TEST_CASE("reachable: a limit narrower than what gain and probe alone leave is refused where it is measured",
          "[sequence]") {
  CHECK(on_bench(measure_step + "    must meet: level\n") == "test.yaml:28:5: " + cannot);
}

TEST_CASE("reachable: it is refused where a measured reading is judged later", "[sequence]") {
  CHECK(on_bench(named_step + "  - judge: now\n    must meet: level\n") == "test.yaml:30:5: " + cannot);
}

TEST_CASE("reachable: it is refused where a condition asks whether a measured reading meets it", "[sequence]") {
  CHECK(
      on_bench(named_step + "  - if: now is above 1 V and not now meets level\n    then:\n      - note: Adjusted\n") ==
      "test.yaml:30:5: " + cannot);
}

TEST_CASE("reachable: it is refused where rounds are repeated until a measured reading meets it", "[sequence]") {
  const std::string round =
      "      - capture: rf\n        each: 500 us long\n        keep: 16 settled\n"
      "        try: at most 40\n        within: 60 s\n        name it: pressed\n"
      "      - measure: eye level of pressed\n        name it: now\n";
  CHECK(on_bench("  - repeat: at most 3 times\n    until: now meets level\n    do:\n" + round) ==
        "test.yaml:22:5: " + cannot);
}

TEST_CASE("reachable: a limit that the bench can show is no mistake", "[sequence]") {
  CHECK(on_bench(named_step + "  - judge: now\n    must meet: level\n", "  level: 1.20 V ± 10 %\n").empty());
}

TEST_CASE("reachable: of what is worked out nobody knows the least, since what readings share may cancel",
          "[sequence]") {
  CHECK(on_bench(named_step + "  - work out: now - 1 mV\n    name it: less\n"
                              "  - judge: less\n    must meet: level\n"
                              "  - if: now - 1 mV meets level\n    then:\n      - note: As before\n")
            .empty());
}

TEST_CASE("reachable: of a reading that comes from one of two steps nobody knows the least", "[sequence]") {
  const std::string either =
      "  - if: now is above 1 V\n    then:\n      - work out: now - 1 mV\n        name it: more\n"
      "    otherwise:\n      - measure: eye level of pressed\n        name it: more\n"
      "  - judge: more\n    must meet: level\n";
  CHECK(on_bench(named_step + either).empty());
}
