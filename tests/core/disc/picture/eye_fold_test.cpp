// SPDX-License-Identifier: Apache-2.0
#include "core/disc/picture/eye_fold.hpp"

#include <catch2/catch.hpp>

#include <numeric>

#include "core/disc/analysis.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc::picture;

namespace {

constexpr double slice_v = 1.35;  // middle of the renderer's levels
constexpr std::size_t per_bit = EyeDensity::columns_per_bit;

std::uint64_t total(const EyeDensity& eye) {
  return std::accumulate(eye.counts.begin(), eye.counts.end(), std::uint64_t{0});
}

// Samples within 65 mV (a twentieth of the level) about the slice, in the half bit about `t` channel bits from the
// edge.
std::uint64_t at_slice(const EyeDensity& eye, double t) {
  const auto first = static_cast<std::size_t>((t - 0.25 + EyeDensity::bits_before) * per_bit);
  std::uint64_t sum = 0;
  for (std::size_t row = 0; row < eye.rows; ++row) {
    if (std::abs(eye.low_v + eye.step_v * (static_cast<double>(row) + 0.5) - slice_v) > 0.065) continue;
    for (std::size_t c = first; c < first + per_bit / 2; ++c) sum += eye.counts[row * EyeDensity::columns + c];
  }
  return sum;
}

std::vector<disc::eye::Run> runs_of(const support::Eye& eye) {
  std::vector<disc::eye::Run> all;
  disc::AnalysisOptions options;
  options.on_runs = [&](const auto&, auto runs) { all.insert(all.end(), runs.begin(), runs.end()); };
  disc::analyse(eye.view(), options);
  return all;
}

}  // namespace

TEST_CASE("eye fold: no run ends before 3T, and each length from 3T on has its own place", "[disc]") {
  const auto eye = support::render({.duration_s = 0.01});
  const auto runs = runs_of(eye);
  // 588 bits of a frame hold about 119 runs on average (5T each): 73.5 frames, 8700 runs; a tenth less is asked for.
  CHECK(runs.size() > 7800);
  EyeFold fold(eye.view(), 0.4, 2.3);
  fold.take(eye.view().codes, runs);
  const EyeDensity& density = fold.result();
  CHECK(density.edges == runs.size());
  CHECK(at_slice(density, 0) > 1000);
  CHECK(at_slice(density, 1) == 0);  // a run of 3T lies above or below there: 1 T from its edge, far from the slice
  CHECK(at_slice(density, 2) == 0);
  for (int t = 3; t <= 11; ++t) {
    CAPTURE(t);
    CHECK(at_slice(density, t) > 0);
  }
  CHECK(at_slice(density, 3) > 3 * at_slice(density, 3.5));  // edges keep to the grid of whole bits
}

TEST_CASE("eye fold: counts of two calls add up", "[disc]") {
  const auto eye = support::render({.duration_s = 0.002});
  const auto runs = runs_of(eye);
  EyeFold once(eye.view(), 0.4, 2.3), twice(eye.view(), 0.4, 2.3);
  once.take(eye.view().codes, runs);
  const std::span all(runs);
  twice.take(eye.view().codes, all.first(runs.size() / 3));
  twice.take(eye.view().codes, all.subspan(runs.size() / 3));
  CHECK(total(once.result()) > 0);
  CHECK(once.result().counts == twice.result().counts);
}

TEST_CASE("eye fold: rows hold the same number of codes each", "[disc]") {
  const auto wave = support::render({.duration_s = 0.001}).on_screen(0.4, 2.3);
  const EyeFold fold(wave.view(), 0.4, 2.3);
  const double codes = fold.result().step_v / wave.scale_v;
  CHECK(codes == Approx(std::round(codes)).margin(1e-9));
  CHECK(fold.result().rows <= 258);
}

TEST_CASE("eye fold: runs and samples that are no number are passed over", "[disc]") {
  const std::vector<float> odd{NAN, HUGE_VALF, -HUGE_VALF, 7.0F, -7.0F};
  const signal::WaveformView view{std::span<const float>(odd), 20e6, 1, 0, std::nullopt};
  EyeFold fold(view, 0, 1);
  std::vector<disc::eye::Run> runs(4);
  runs[0].start = NAN, runs[0].period = 4;
  runs[1].period = 0;
  runs[2].start = 1e300, runs[2].period = 4;
  runs[3].period = 4;  // at the first sample: all samples are outside
  fold.take(view.codes, runs);
  CHECK(fold.result().edges == 1);
  CHECK(total(fold.result()) == 0);
}
