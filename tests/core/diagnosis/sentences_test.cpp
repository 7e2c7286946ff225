// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/sentences.hpp"

#include "tests/core/diagnosis/judgement_table.hpp"

using namespace eyelevel;
using namespace eyelevel::diagnosis;
using test::judgement_table;

TEST_CASE("sentences: a worn laser with what speaks for it and what against", "[diagnosis]") {
  const std::vector<Observation> all{observe("laser_current", {0.0585, 0.0005}, Measured{0.045, 0}),
                                     observe("level", {1.20, 0.01}, Measured{1.20, 0}), observe_told("discs", "one")};
  const auto told = findings(diagnose(judgement_table(), all, {.has_power_loop = true}), all);
  bool is_there = false;
  for (const Finding& finding : told) {
    if (finding.cause != "laser worn") continue;
    is_there = true;
    CHECK_THAT(
        finding.because,
        Catch::Contains("the laser current lies above the label (30 % above the reference) (speaks strongly for it)"));
    CHECK_THAT(finding.because, Catch::Contains("but only this disc is bad (speaks strongly against it)"));
  }
  CHECK(is_there);
}

TEST_CASE("sentences: what is not known is said, and what is likeliest behind it", "[diagnosis]") {
  const std::vector<Observation> all{observe_told("jitter", "raised")};
  const auto told = findings(diagnose(judgement_table(), all, {}), all);
  REQUIRE(told.size() >= 2);
  CHECK(told[0].cause == "don't know");
  CHECK_FALSE(told[0].belief);
  CHECK_THAT(told[0].because, Catch::StartsWith("no cause is believed to 60 %; the likeliest, "));
  CHECK(told[1].belief);
}

TEST_CASE("sentences: a reading on the border tells both", "[diagnosis]") {
  const std::vector<Observation> all{observe("laser_current", {0.0505, 0.0012}, Measured{0.045, 0}),
                                     observe_told("discs", "pressed")};
  for (const Finding& finding : findings(diagnose(judgement_table(), all, {}), all))
    if (finding.because.find("laser current") != std::string::npos)
      CHECK_THAT(finding.because,
                 Catch::Contains("the laser current is that of the label, or the laser current lies above"));
}
