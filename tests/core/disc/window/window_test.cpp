// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/window.hpp"

#include <catch2/catch.hpp>

#include <limits>

#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double none = std::numeric_limits<double>::infinity();
constexpr eye::Rails rails{-none, none};

support::Eye rendered(double duration_s) {
  support::EyeSettings settings;
  settings.duration_s = duration_s;
  return support::render(settings);
}

}  // namespace

TEST_CASE("window: only what lies in the core is added", "[disc]") {
  const support::Eye eye = rendered(0.012);
  window::Tally whole(rails, 32e-6), half(rails, 32e-6);
  window::Looker(eye.rate_hz, rails).look(eye.view().codes, {0, {0, 240000}}, whole);
  window::Looker(eye.rate_hz, rails).look(eye.view().codes, {0, {0, 119680}}, half);  // 187 envelope blocks
  REQUIRE(whole.any_eye);
  CHECK(whole.samples == 240000);
  CHECK(half.samples == 119680);
  CHECK(half.locked / whole.locked == Approx(0.5).margin(0.01));
  CHECK(half.sum / whole.sum == Approx(0.5).margin(0.01));
  CHECK(half.run_bits / whole.run_bits == Approx(0.5).margin(0.01));
}

TEST_CASE("window: two halves that overlap add up to the whole", "[disc]") {
  const support::Eye eye = rendered(0.012);
  const std::span<const float> x(eye.volts);
  window::Tally whole(rails, 32e-6), halves(rails, 32e-6);
  window::Looker(eye.rate_hz, rails).look(x, {0, {0, 240000}}, whole);
  window::Looker looker(eye.rate_hz, rails);
  looker.look(x.first(119680 + 20480), {0, {0, 119680}}, halves);
  looker.look(x.subspan(119680 - 20480), {119680 - 20480, {119680, 240000}}, halves);
  CHECK(halves.samples == whole.samples);
  CHECK(halves.sum == Approx(whole.sum));
  CHECK(halves.run_bits == Approx(whole.run_bits).margin(22));  // a run or two at the border
  const auto a = whole.levels.result(), b = halves.levels.result();
  CHECK(b.high[11]->mean == Approx(a.high[11]->mean).margin(1e-5));
  CHECK(b.low[3]->mean == Approx(a.low[3]->mean).margin(1e-4));
  CHECK(*halves.lengths.result().all == Approx(*whole.lengths.result().all).epsilon(0.01));
}

TEST_CASE("window: one without an eye says why and counts as a stretch without", "[disc]") {
  const std::vector<float> flat(20000, 1.0F);
  window::Tally tally(rails, 32e-6);
  const auto frames = window::Looker(20e6, rails).look(std::span<const float>(flat), {0, {0, 20000}}, tally);
  CHECK(frames.list.empty());
  CHECK_FALSE(tally.any_eye);
  CHECK(tally.refusal == "the signal does not move");
  CHECK(tally.without_eye.count() == 1);
}

TEST_CASE("window: samples that are no number are counted in the core alone", "[disc]") {
  support::Eye eye = rendered(0.004);
  eye.volts[10] = eye.volts[70000] = std::numeric_limits<float>::quiet_NaN();
  window::Tally tally(rails, 32e-6);
  window::Looker(eye.rate_hz, rails).look(eye.view().codes, {0, {0, 68000}}, tally);
  CHECK(tally.replaced == 1);
  CHECK(tally.any_eye);
}
