// SPDX-License-Identifier: Apache-2.0
// The closed forms are held against averages over densely rendered samples, and against the formulas of ECMA-130 12.
#include "sim/disc/truth.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <cstddef>
#include <memory>
#include <vector>

#include "sim/disc/optics.hpp"

using namespace eyelevel::sim;
using eyelevel::base::Random;

namespace {

constexpr std::int64_t first = 3000 * section_bits;
constexpr std::int64_t bits = 200 * eyelevel::disc::efm::frame_bits;

struct Scene {
  ChannelStream stream{std::make_shared<const Contents>(draw_contents({}, Random(1, "contents")))};
  EdgeWindow window;
  Scene() { stream.edges(first, first + bits, window); }
};

}  // namespace

TEST_CASE("truth: settled levels are the mean of the rendered signal over the central 5T of 11T runs", "[sim]") {
  Scene scene;
  const EyeShape shape{.sigma_t = blur_of_i3_over_i11(0.5), .pit_lengthening_t = 0.15};
  constexpr double step = 0.05;
  std::vector<float> samples(static_cast<std::size_t>(double(bits) / step));
  EyeRenderer renderer(shape);
  renderer.render(scene.stream, {double(first), step, 0}, samples);
  double land = 0, pit = 0;
  std::size_t lands = 0, pits = 0;
  bool is_land = scene.window.land_before;
  for (std::size_t e = 0; e + 1 < scene.window.edges.size(); ++e) {
    is_land = !is_land;
    const int run = scene.window.edges[e + 1] - scene.window.edges[e];
    const double centre = scene.window.edges[e] + 0.5 * run;
    if (run != 11 || centre < 30 || centre > double(bits) - 30) continue;
    double mean = 0;
    int count = 0;
    for (auto i = static_cast<std::size_t>(std::ceil((centre - 2.5) / step)); double(i) * step <= centre + 2.5;
         ++i, ++count)
      mean += double(samples[i]);
    (is_land ? land : pit) += mean / count;
    ++(is_land ? lands : pits);
  }
  const SettledLevels levels = settled_levels(scene.window, shape);
  CHECK(levels.lands == Approx(double(lands)).margin(2));
  CHECK(levels.pits == Approx(double(pits)).margin(2));
  CHECK(levels.land == Approx(land / double(lands)).margin(3e-4));  // tolerance of the renderer
  CHECK(levels.pit == Approx(pit / double(pits)).margin(3e-4));
}

TEST_CASE("truth: a steep edge leaves 11T runs at exactly +1 and -1, a usual one within 1 %", "[sim]") {
  const Scene scene;
  const SettledLevels steep = settled_levels(scene.window, {.sigma_t = 0.5});
  CHECK(steep.land == Approx(1).margin(1e-12));
  CHECK(steep.pit == Approx(-1).margin(1e-12));
  const SettledLevels usual = settled_levels(scene.window, {.sigma_t = blur_of_i3_over_i11(0.4)});
  CHECK(usual.peak_to_peak() < 2);
  CHECK(usual.peak_to_peak() > 2 * 0.99);
}

TEST_CASE("truth: the nearer to the centre of 11T runs, the better they have settled", "[sim]") {
  const Scene scene;
  const EyeShape shape{.sigma_t = blur_of_i3_over_i11(0.5)};
  double before = 1;
  for (const double central_t : {2.0, 5.0, 8.0}) {
    const double land = settled_levels(scene.window, shape, central_t).land;
    CHECK(land < before);
    before = land;
  }
  // Centre of a run of 11T: two edges 5.5T away cost 2 erfc(5.5 / (sigma sqrt 2)); the next edges give back as much at
  // most. Below 1e-4 either way.
  CHECK(settled_levels(scene.window, shape, 0).land == Approx(1).margin(1e-4));
  CHECK(settled_levels(scene.window, shape, 2).peak_to_peak() == Approx(2).margin(2e-4 + 2e-4));
}

TEST_CASE("truth: an alternating 11T pattern settles as its closed form says", "[sim]") {
  EdgeWindow window{.first_bit = 0, .until_bit = 1100, .land_before = true, .edges = {}};
  for (int i = 1; i < 100; ++i) window.edges.push_back(11 * i);
  const EyeShape shape{.sigma_t = 1.5};
  // Mean over 5T of the deficit of the four nearest edges: integral of the normal law, by fine steps.
  double mean = 0;
  constexpr int steps = 5000;
  for (int i = 0; i < steps; ++i) {
    const double u = -2.5 + 5.0 * (i + 0.5) / steps;
    double value = 1;
    for (int k = 0; k < 3; ++k) {
      const double sign = k % 2 == 0 ? -1 : 1;
      for (const double distance : {5.5 + 11 * k - u, 5.5 + 11 * k + u})
        value += sign * std::erfc(distance / (1.5 * std::sqrt(2.0)));
    }
    mean += value / steps;
  }
  const SettledLevels levels = settled_levels(window, shape);
  CHECK(levels.land == Approx(mean).margin(1e-4));
  CHECK(levels.pit == Approx(-mean).margin(1e-4));
}

TEST_CASE("truth: the mean level is that of the rendered samples, and follows lengthened pits", "[sim]") {
  Scene scene;
  for (const double lengthening : {0.0, 0.25, -0.1}) {
    const EyeShape shape{.sigma_t = 1.3, .pit_lengthening_t = lengthening};
    constexpr double step = 0.1;
    const double from = double(first) + 50, until = double(first + bits) - 50;
    std::vector<float> samples(static_cast<std::size_t>((until - from) / step));
    EyeRenderer renderer(shape);
    renderer.render(scene.stream, {from + step / 2, step, 0}, samples);
    double mean = 0;
    for (const float v : samples) mean += double(v) / double(samples.size());
    const double truth = mean_level(scene.window, shape, from, until);
    INFO("pits lengthened by " << lengthening << " T");
    CHECK(truth == Approx(mean).margin(1e-5));
    // Half of the edges move either way: every run loses or gains this much of 2 per mean run.
    const double straight = mean_level(scene.window, {.sigma_t = 1.3}, from, until);
    CHECK(truth - straight == Approx(-lengthening / mean_run_t).margin(0.001));
  }
}

TEST_CASE("truth: I3 over I11 and asymmetry of music are those the shape was made for", "[sim]") {
  // ECMA-130 12.1, 12.3. The shape is made for 3T runs among long ones; next to short runs they lose a little: 0.01.
  const Scene scene;
  for (const double ratio : {0.40, 0.50, 0.60})
    for (const double asymmetry : {-0.05, 0.0, 0.08}) {
      const EdgeBlur blur = blur_of(ratio, asymmetry);
      const EyeShape shape{.sigma_t = blur.sigma_t, .pit_lengthening_t = blur.pit_lengthening_t};
      const SettledLevels long_runs = settled_levels(scene.window, shape);
      const ShortRunLevels short_runs = short_run_levels(scene.window, shape);
      REQUIRE(short_runs.lands > 1000);
      const double i11 = long_runs.peak_to_peak();
      INFO("I3/I11 " << ratio << ", asymmetry " << asymmetry);
      CHECK((short_runs.land - short_runs.pit) / i11 == Approx(ratio).margin(0.01));
      CHECK((0.5 * (long_runs.land + long_runs.pit) - 0.5 * (short_runs.land + short_runs.pit)) / i11 ==
            Approx(asymmetry).margin(0.01));
    }
}
