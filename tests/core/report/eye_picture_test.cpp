// SPDX-License-Identifier: Apache-2.0
#include "core/report/eye_picture.hpp"

#include <catch2/catch.hpp>

#include <numeric>

#include "tests/core/report/eye_run.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

constexpr double low_v = 0.8, high_v = 2.4;
constexpr double slice_v = test::eye_bottom_v + test::eye_level_v / 2;

// Samples within a tenth of the level about the slice, by column: many where edges cross, none in an open eye.
std::vector<std::uint64_t> across_slice(const EyePicture& eye) {
  std::vector<std::uint64_t> list(eye.columns);
  for (std::size_t row = 0; row < eye.rows; ++row) {
    const double v = eye.low_v + eye.step_v * (static_cast<double>(row) + 0.5);
    if (std::abs(v - slice_v) > 0.1 * test::eye_level_v) continue;
    for (std::size_t column = 0; column < eye.columns; ++column) list[column] += eye.at(row, column);
  }
  return list;
}

EyePicture fold(double channel_rate_hz, int captures = 10) {
  EyeFolder folder(low_v, high_v, 2.0 / 256);
  base::Random random(9);
  for (int i = 0; i < captures; ++i) {
    folder.push(test::eye_waveform(random, test::eye_level_v).view(), {channel_rate_hz, slice_v});
  }
  return folder.result();
}

}  // namespace

TEST_CASE("eye picture: folded on the true channel bit, the eye is open in its middle", "[report]") {
  const EyePicture eye = fold(test::eye_channel_rate_hz);
  CHECK(eye.captures == 10);
  CHECK(eye.folded == 100000);
  CHECK(std::accumulate(eye.counts.begin(), eye.counts.end(), std::uint64_t{0}) == eye.folded);
  CHECK(std::accumulate(eye.histogram.begin(), eye.histogram.end(), std::uint64_t{0}) == 100000);
  const auto slice = across_slice(eye);
  const std::uint64_t at_edges = slice.front() + slice.back();
  const std::uint64_t in_middle = slice[eye.columns / 2] + slice[eye.columns / 2 - 1];
  // A 3T run at 1.25 T blur holds more than a tenth of the level at half a bit from its edge: nothing lies there.
  // About 4400 crossings pass a fifth of the level at 0.32 levels per T, each for 0.63 T of 4.63 samples, so 340
  // samples in each of 60 columns about an edge; three quarters of that are asked for.
  CHECK(at_edges > 510);
  CHECK(in_middle == 0);
}

// 300 ppm over the 2161 bits of a capture is 0.65 T: the picture would be closed if the phase were not followed.
TEST_CASE("eye picture: a small error of the rate does not close the eye", "[report]") {
  const auto slice = across_slice(fold(test::eye_channel_rate_hz * (1 + 300e-6)));
  CHECK(slice[slice.size() / 2] == 0);
  CHECK(slice.front() > 255);  // three quarters of 340, as above
}

TEST_CASE("eye picture: without crossings a capture counts in the histogram only", "[report]") {
  EyeFolder folder(0, 1, 0.01);
  signal::Waveform flat;
  flat.codes = std::vector<float>(500, 0.5F);
  flat.rate_hz = 20e6;
  folder.push(flat.view(), {4.3218e6, 0.2});
  CHECK(folder.result().folded == 0);
  CHECK(folder.result().captures == 0);
  CHECK(folder.result().histogram[50] + folder.result().histogram[49] == 500);
  CHECK(folder.result().dense_count() == 1);
  folder.reset();
  CHECK(folder.result().histogram[50] == 0);
}

TEST_CASE("eye picture: samples outside, not finite or none at all are passed over", "[report]") {
  EyeFolder folder(0, 1, 0.01);
  signal::Waveform odd;
  odd.codes = std::vector<float>{NAN, HUGE_VALF, -HUGE_VALF, 7.0F, -7.0F};
  odd.rate_hz = 20e6;
  folder.push(odd.view(), {4.3218e6, 0.5});
  odd.codes = std::vector<float>{};
  folder.push(odd.view(), {4.3218e6, 0.5});
  CHECK(folder.result().folded == 0);
  const auto& h = folder.result().histogram;
  CHECK(std::accumulate(h.begin(), h.end(), std::uint64_t{0}) == 0);
}

TEST_CASE("eye picture: rows hold whole codes, however many there are", "[report]") {
  const EyeFolder fine(0, 2, 2.0 / 65536);
  CHECK(fine.result().rows <= 400);
  const double codes = fine.result().step_v / (2.0 / 65536);
  CHECK(codes == Approx(std::round(codes)).margin(1e-9));
}
