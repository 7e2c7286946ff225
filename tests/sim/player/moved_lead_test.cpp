// SPDX-License-Identifier: Apache-2.0
#include "sim/player/moved_lead.hpp"

#include <catch2/catch.hpp>

#include <array>

using namespace eyelevel;

namespace {

struct Constant final : sim::SignalSource {
  explicit Constant(float v) : volts(v) {}
  float volts;
  void render(double, double, std::span<float> into, const sim::Load&) override {
    std::fill(into.begin(), into.end(), volts);
  }
  double mean_v(double, double, const sim::Load&) override { return static_cast<double>(volts); }
};

sim::MovedLead lead() {
  return {{{"pad", std::make_shared<Constant>(2.5F)},
           {"calibrator", std::make_shared<Constant>(1.0F)},
           {"ground", nullptr}},
          "pad"};
}

}  // namespace

TEST_CASE("moved lead: shows the place where it lay at each moment, also within one record", "[sim]") {
  auto probe = lead();
  CHECK(probe.move("calibrator", 1.0));
  CHECK(probe.move("ground", 1.002));
  std::array<float, 6> volts{};
  probe.render(0.9985, 1000, volts, {});
  CHECK(volts == std::array<float, 6>{2.5F, 2.5F, 1.0F, 1.0F, 0.0F, 0.0F});
}

TEST_CASE("moved lead: a mean over a move is that of its parts", "[sim]") {
  auto probe = lead();
  probe.move("ground", 1.0);
  CHECK(probe.mean_v(0.0, 4.0, {}) == Approx(2.5 / 4));
}

TEST_CASE("moved lead: to a place that is not there it does not move", "[sim]") {
  auto probe = lead();
  CHECK_FALSE(probe.move("antenna", 1.0));
  CHECK(probe.mean_v(0, 2, {}) == Approx(2.5));
}
