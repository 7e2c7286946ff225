// SPDX-License-Identifier: Apache-2.0
#include "core/disc/picture/run_spread.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numeric>

#include "core/disc/analysis.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc::picture;

namespace {

constexpr double bit = 20;  // samples

disc::eye::Run run_of(int length, double off_bits, bool high) {
  disc::eye::Run run;
  run.start = 1000;
  run.end = run.start + (length + off_bits) * bit;
  run.period = static_cast<float>(bit);
  run.length = length;
  run.high = high;
  return run;
}

std::uint64_t total(const LengthSpread& spread) {
  return std::accumulate(spread.counts.begin(), spread.counts.end(), std::uint64_t{0});
}

}  // namespace

TEST_CASE("run spread: a run is counted where its length lies, in its own group", "[disc]") {
  for (const bool high_is_land : {true, false}) {
    RunSpreadCounter counter(4321800, high_is_land);
    // 0.1025 and -0.4975 lie in the middle of a step of 0.005.
    const std::vector runs{run_of(3, 0.1025, true), run_of(11, -0.4975, false)};
    counter.take(runs);
    counter.take(runs);
    const RunSpreads& spreads = counter.result();
    CHECK(spreads.bit_ns == Approx(231.385).margin(0.001));
    const LengthSpread &high = spreads.of(3, high_is_land), &low = spreads.of(11, !high_is_land);
    CHECK(high.counts[220] == 2);
    CHECK(LengthSpread::start_bits(220) == Approx(0.1));
    CHECK(low.counts[100] == 2);
    CHECK(LengthSpread::start_bits(100) == Approx(-0.5));
    CHECK(total(high) == 2);
    CHECK(total(low) == 2);
    CHECK(total(spreads.of(3, !high_is_land)) == 0);
  }
}

TEST_CASE("run spread: runs far off, of no legal length or without a period are passed over", "[disc]") {
  RunSpreadCounter counter(4321800, true);
  disc::eye::Run none = run_of(3, 0, true), endless = run_of(3, 0, true);
  none.end = std::nan("");
  endless.period = 0;
  const std::vector runs{
      run_of(3, -1.01, true), run_of(3, 1, true), run_of(2, 0, true), run_of(12, 0, true), none, endless};
  counter.take(runs);
  for (std::size_t t = 0; t < 12; ++t) {
    CHECK(total(counter.result().of(t, true)) == 0);
    CHECK(total(counter.result().of(t, false)) == 0);
  }
}

TEST_CASE("run spread: mean and deviation of the counts are those that are measured", "[disc]") {
  RunSpreadCounter counter(4321800, true);
  disc::AnalysisOptions options;
  options.on_runs = [&](const auto&, auto runs) { counter.take(runs); };
  const disc::Analysis a = disc::analyse(support::render({.duration_s = 0.02}).view(), options);
  REQUIRE(a.run_lengths.size() == 18);
  for (const disc::RunLengths& row : a.run_lengths) {
    CAPTURE(row.t, row.is_land);
    const LengthSpread& spread = counter.result().of(static_cast<std::size_t>(row.t), row.is_land);
    CHECK(total(spread) == static_cast<std::uint64_t>(row.count));
    double sum = 0, squares = 0;
    for (std::size_t i = 0; i < LengthSpread::steps; ++i) {
      const double ns = (LengthSpread::start_bits(i) + 0.5 / LengthSpread::steps_per_bit) * counter.result().bit_ns;
      sum += spread.counts[i] * ns;
      squares += spread.counts[i] * ns * ns;
    }
    const double count = static_cast<double>(row.count), mean = sum / count;
    // A step is 1.16 ns wide: nobody is more than half of it from its middle.
    constexpr double half_step_ns = 0.58;
    CHECK(mean == Approx(*row.length_error_ns).margin(half_step_ns));
    CHECK(std::sqrt(squares / count - mean * mean) == Approx(*row.jitter_ns).margin(half_step_ns));
  }
}
