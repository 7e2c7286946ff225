// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/balance.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

struct Sliced {
  support::Eye eye;
  clock::LevelTrack coarse;
  clock::Edges edges;
  clock::Lattice lattice;
  clock::LocalClock local;

  // Mean level over the edges.
  double level() const {
    double sum = 0;
    for (const float level : edges.level) sum += static_cast<double>(level);
    return sum / static_cast<double>(edges.size());
  }
};

// Sliced at first with a constant level that is off by `off_v`.
Sliced slice(const support::EyeSettings& settings, double off_v) {
  Sliced s;
  s.eye = support::render(settings);
  const signal::CodesView view = s.eye.view().codes;
  const clock::Survey survey = clock::survey(view, s.eye.rate_hz);
  s.coarse = {0, 1, {1.35 + off_v}};
  s.edges = clock::slice(view, survey, s.coarse, 0.05);
  s.lattice = clock::recover(s.edges);
  s.local = clock::balance(view, 0.05, s.lattice, s.edges);
  return s;
}

}  // namespace

TEST_CASE("balance: a level that was 10 % of the eye off comes to where lands and pits balance", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.005;
  for (const double off_v : {-0.13, 0.0, 0.13}) {
    const Sliced s = slice(settings, off_v);
    INFO(off_v << " V");
    CHECK(s.level() == Approx(1.35).margin(0.0015));  // symmetric edges: the middle of the eye
    double lands = 0, pits = 0;
    for (std::size_t k = 0; k + 1 < s.edges.size(); ++k) {
      if (s.lattice.length[k] == 0) continue;
      const double excess =
          s.edges.run(k) / s.local.period(k) - static_cast<double>(s.lattice.bit[k + 1] - s.lattice.bit[k]);
      (s.edges.rises(k) ? lands : pits) += excess;
    }
    CHECK(std::abs(lands - pits) / static_cast<double>(s.edges.size()) < 0.002);  // channel bits a run
  }
}

TEST_CASE("balance: asymmetry moves the level by half the shift times the slope of an edge", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.005;
  settings.pit_longer_t = 0.2;
  const Sliced s = slice(settings, 0);
  // Each edge is 0.1 T nearer to the land; peak slope of a Gaussian edge is I / (sigma sqrt(2 pi)), 3T neighbours lower
  // it.
  const double slope = 1.3 / (1.25 * std::sqrt(6.2832));
  CHECK(s.level() == Approx(1.35 - 0.1 * slope).margin(0.1 * 0.1 * slope + 0.001));
}

TEST_CASE("balance: the local clock follows the turns of the disc", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.02;
  settings.rate_change = [](double t) { return 0.01 * std::sin(6.2832 * 50 * t); };
  const Sliced s = slice(settings, 0);
  for (std::size_t k = 100; k + 100 < s.edges.size(); k += 50) {
    const double t = s.edges.at[k] / s.eye.rate_hz;
    const double period = 20e6 / (4321800 * (1 + 0.01 * std::sin(6.2832 * 50 * t)));
    // A window of 64 edges is 71 us: the rate moves by 2.2e-4 from its middle to its end.
    CHECK(s.local.period(k) == Approx(period).epsilon(4e-4));
  }
}

TEST_CASE("balance: without a clock the coarse level is all there is", "[disc]") {
  clock::Edges edges;
  edges.at = {10, 20, 30};
  edges.level = {0.5F, 0.5F, 0.5F};
  edges.step = {0, 0, 0};
  const std::vector<float> x(64, 0.0F);
  clock::balance(std::span<const float>(x), 0.1, clock::Lattice{}, edges);
  CHECK(edges.level == std::vector<float>{0.5F, 0.5F, 0.5F});
  CHECK(edges.at == std::vector<double>{10, 20, 30});
}
