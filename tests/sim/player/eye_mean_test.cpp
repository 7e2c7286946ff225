// SPDX-License-Identifier: Apache-2.0
#include "sim/player/eye_mean.hpp"

#include <catch2/catch.hpp>
#include <vector>

#include "sim/disc/channel_stream.hpp"
#include "sim/player/pad.hpp"
#include "tests/sim/player/discs.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

constexpr double land_v = 1.8, pit_v = 0.55;

// The mean of many rendered and saturated frames: what the shortcut must reproduce.
double rendered_mean_v(const LoadedDisc& disc, double limit_v) {
  ChannelStream stream(disc.disc().contents);
  EyeRenderer renderer(disc.shape(disc.eye(10, 1)));
  std::vector<float> samples(2'000'000);
  renderer.render(stream, {.start_bit = 700.0 * section_bits, .bits_per_sample = 0.35}, samples);
  double sum_v = 0;
  for (const float sample : samples) {
    const double linear_v = (land_v + pit_v) / 2 + (land_v - pit_v) / 2 * static_cast<double>(sample);
    sum_v += saturated_v(linear_v, limit_v);
  }
  return sum_v / static_cast<double>(samples.size());
}

}  // namespace

TEST_CASE("eye mean: with and without saturation it is the mean of a long rendered eye", "[player]") {
  auto body = test::flat_disc();
  body.asymmetry = 0.05;
  const LoadedDisc disc(test::shared(body), ideal_player({}), base::Random(1));
  EyeMean mean(disc.shared_disc());
  const double i3_over_i11 = disc.eye(10, 1).i3_over_i11;
  for (const double limit_v : {1.7, 2.0, 2.6, 10.0}) {
    INFO("limit " << limit_v);
    // The digital sum of 1200 frames leaves 0.02 % of the swing; asked is 0.05 % of the level.
    CHECK(mean.mean_v({land_v, pit_v}, i3_over_i11, limit_v) ==
          Approx(rendered_mean_v(disc, limit_v)).margin(0.0005 * (land_v - pit_v)));
  }
}

TEST_CASE("eye mean: asymmetry lowers the mean by about its share of the level", "[player]") {
  // compact-disc notes: rise/p-p = 1/m - 1/2 - asymmetry, the last as far as the mean follows the decision level.
  auto body = test::flat_disc();
  body.asymmetry = 0.05;
  const LoadedDisc disc(test::shared(body), ideal_player({}), base::Random(1));
  EyeMean mean(disc.shared_disc());
  const double shift = mean.mean(disc.eye(10, 1).i3_over_i11) / 2;  // of the peak to peak
  CHECK(shift < -0.01);
  CHECK(shift > -0.05);
}
