// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("peak to peak: largest less smallest of the averaged waveform, with its noise and the chain", "[sequence]") {
  test::FakeBench bench;
  // The fake renders eight different records; averaged they are no eye, but their mean has a known largest and smallest
  // sample, which the journal's captures give.
  const auto result =
      bench.run(test::around("  - average: rf\n    each: 20 us long\n    count: 16\n    trigger: rising through 1.6 "
                             "V\n    within: 30 s\n    name it: edge\n"
                             "  - measure: peak to peak of edge\n    name it: swing\n"));
  REQUIRE_FALSE(result.error);
  const auto captures = bench.journal.of<event::Captured>();
  REQUIRE(captures.size() == 16);
  std::vector<double> mean(captures.front().waveform->size(), 0.0);
  for (const auto& c : captures)
    for (std::size_t i = 0; i < mean.size(); ++i) mean[i] += c.waveform->view().volts(i) / 16;
  const auto [low, high] = std::minmax_element(mean.begin(), mean.end());
  const auto& swing = result.readings.at(0);
  CHECK(swing.value == Approx((*high - *low) * 1.0001).epsilon(1e-5));  // single precision of the average
  CHECK(swing.count == 16);
  CHECK(swing.inputs == std::vector<std::string>{"edge"});
  CHECK(swing.interval.standard_uncertainty > 0.01 * swing.value);
}
