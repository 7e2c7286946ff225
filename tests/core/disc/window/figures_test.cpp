// SPDX-License-Identifier: Apache-2.0
// What a tally says, in volts and nanoseconds. Sums are given here; whether they are right is tested beside each step
// and in analyse_test.cpp.
#include "core/disc/window/figures.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

#include "tests/core/disc/warnings.hpp"
#include "tests/support/run_row.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double none = std::numeric_limits<double>::infinity();

// Twenty runs of 3T and of 11T to each side, 4.6 samples to a channel bit; high and low are codes.
window::Tally tally_of(double high11, double low11, double high3, double low3) {
  window::Tally tally({-none, none}, 32e-6);
  std::vector<eye::Run> runs;
  std::vector<float> x;
  for (int i = 0; i < 80; ++i) {
    const int length = i % 4 < 2 ? 11 : 3;
    const bool high = i % 2 == 0;
    const double start = static_cast<double>(x.size());
    x.resize(x.size() + static_cast<std::size_t>(length) * 5,
             static_cast<float>(high ? (length == 11 ? high11 : high3) : (length == 11 ? low11 : low3)));
    runs.push_back({start, static_cast<double>(x.size()), 5.0F, 0, length, high});
    tally.run_samples += 5.0 * length;
    tally.run_bits += length;
  }
  tally.samples = x.size();
  tally.any_eye = true;
  support::RunRow(runs).give([&](const eye::Runs& some) {
    tally.levels.take(std::span<const float>(x), some);
    tally.lengths.take(some);
  });
  tally.levels.end_part();
  return tally;
}

signal::WaveformView scale_of(double scale_v, double offset_v) {
  return {std::span<const float>(), 21.609e6, scale_v, offset_v, std::nullopt};
}

Analysis figures_of(const window::Tally& tally, double scale_v, double offset_v, const AnalysisOptions& options = {}) {
  const window::FrameChain frames(21.609e6, options);
  return window::figures(scale_of(scale_v, offset_v), options, tally, frames);
}

}  // namespace

TEST_CASE("figures: codes are volts by scale and offset, whichever way the scale goes", "[disc]") {
  for (const double scale_v : {0.01, -0.01}) {
    CAPTURE(scale_v);
    const Analysis a = figures_of(tally_of(60, -40, 30, -20), scale_v, 1.5);
    CHECK(*a.level.i11_v == Approx(1.0));
    CHECK(*a.level.i3_v == Approx(0.5));
    CHECK(*a.level.top_v == Approx(scale_v > 0 ? 2.1 : 1.9));
    CHECK(*a.level.bottom_v == Approx(scale_v > 0 ? 1.1 : 0.9));
    CHECK(*a.i3_over_i11 == Approx(0.5));
    // ECMA-130 12.3: middle of 11T minus middle of 3T over I11; 0.1 - 0.05 of what rises with the code.
    CHECK(*a.asymmetry == Approx(scale_v > 0 ? 0.05 : -0.05));
    CHECK(*a.channel_rate_hz == Approx(4321800));
  }
}

TEST_CASE("figures: with the dark level above, less volts are more light", "[disc]") {
  const Analysis a = figures_of(tally_of(60, -40, 30, -20), 0.01, 1.5, {.dark_v = 2.6});
  CHECK(*a.level.top_v == Approx(1.1));
  CHECK(*a.i11_over_top == Approx(1.0 / 1.5));
  CHECK(*a.asymmetry == Approx(-0.05));
  for (const RunLengths& row : a.run_lengths) {
    if (row.t == 11) CHECK(*row.level_v == Approx(row.is_land ? 1.1 : 2.1));
  }
}

TEST_CASE("figures: windows without an eye are told with their time, and that the record is disturbed", "[disc]") {
  window::Tally tally = tally_of(60, -40, 30, -20);
  tally.refusal = "the signal does not move";
  tally.without_eye.add({0, 21609});
  tally.without_eye.add({43218, 64827});
  const Analysis a = figures_of(tally, 0.01, 0);
  CHECK(a.has_eye);
  CHECK(a.disturbed);
  CHECK(warns_of(a, "no eye from 0.00 ms to 1.00 ms: the signal does not move"));
  CHECK(warns_of(a, "no eye from 2.00 ms to 3.00 ms"));
  CHECK_FALSE(warns_of(a, "3.00 ms: the signal does not move"));  // whose reason is not known
}

TEST_CASE("figures: without an eye anywhere there is a reason and nothing else", "[disc]") {
  window::Tally tally({-none, none}, 32e-6);
  tally.samples = 100000;
  tally.refusal = "the signal does not move";
  const Analysis a = figures_of(tally, 0.01, 1);
  CHECK_FALSE(a.has_eye);
  CHECK_FALSE(a.level.i11_v);
  CHECK(*a.level.mean_v == 1);
  CHECK(warns_of(a, "no eye: the signal does not move"));
  CHECK_FALSE(warns_of(a, "no eye from"));
}
