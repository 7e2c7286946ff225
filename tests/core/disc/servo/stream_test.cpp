// SPDX-License-Identifier: Apache-2.0
// Truth: the closed forms of servo_test.cpp, here in records of several parts.
#include "core/disc/servo/stream.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "core/base/random.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double pi = 3.14159265358979323846;

// Gives the samples of a shape with noise, without holding them.
class Shaped final : public signal::SampleStream {
 public:
  Shaped(double duration_s, double rate_hz, std::function<double(double)> shape)
      : SampleStream({}), left_(static_cast<std::size_t>(duration_s * rate_hz)), shape_(std::move(shape)) {
    about_.codes = std::span<const float>();
    about_.rate_hz = rate_hz;
  }
  void say_rate(double rate_hz) { about_.rate_hz = rate_hz; }
  signal::CodesView next(std::size_t most) override {
    codes_.resize(std::min({most, block_most, left_}));
    left_ -= codes_.size();
    for (float& code : codes_) {
      code = static_cast<float>(shape_(static_cast<double>(given_++) / about_.rate_hz) + 0.005 * random_.normal());
    }
    return std::span<const float>(codes_);
  }

 private:
  std::size_t left_, given_ = 0;
  std::function<double(double)> shape_;
  base::Random random_{11, "noise"};
  std::vector<float> codes_;
};

// A sweep every 20 ms, 1 ms from peak to peak, 0.8 V up and 0.5 V down from 2.5 V.
double sweeps(double t) {
  const double x = (std::fmod(t, 0.02) - 0.01) / 0.0005, s = x * std::exp(0.5 - 0.5 * x * x);
  return 2.5 + (s > 0 ? 0.8 : 0.5) * s;
}

// Part of a second that one part lasts at 1 MSa/s, where nothing is taken together.
constexpr double part_s = static_cast<double>(servo::part_most) * 1e-6;

}  // namespace

TEST_CASE("servo: a record of several parts has the sweeps of all of them", "[disc]") {
  Shaped record(2.4 * part_s, 1e6, sweeps);
  const auto s = servo::s_curve(record, std::nullopt).found;
  REQUIRE(s);
  const double all = 2.4 * part_s / 0.02;
  CHECK(s->sweeps > all - 4);  // one may be cut at each border
  CHECK(s->sweeps <= all + 1);
  CHECK(s->height_v == Approx(1.3).epsilon(0.01));
  CHECK(s->symmetry == Approx(0.3 / 1.3).margin(0.01));
}

TEST_CASE("servo: parts in which the lens rests take nothing from the sweeps of others", "[disc]") {
  Shaped record(2.4 * part_s, 1e6, [](double t) { return t > part_s && t < part_s + 0.2 ? sweeps(t) : 2.5; });
  const auto s = servo::s_curve(record, std::nullopt).found;
  REQUIRE(s);
  CHECK(s->sweeps >= 9);
  CHECK(s->sweeps <= 11);
  CHECK(s->height_v == Approx(1.3).epsilon(0.01));
}

TEST_CASE("servo: samples that are taken together show the same curve", "[disc]") {
  Shaped record(0.2, 20e6, sweeps);
  const auto s = servo::s_curve(record, std::nullopt).found;
  REQUIRE(s);
  CHECK(s->sweeps == 10);
  CHECK(s->height_v == Approx(1.3).epsilon(0.01));
  CHECK(s->symmetry == Approx(0.3 / 1.3).margin(0.01));
  const double steepest = 0.5 * 1.3 * std::exp(0.5) / 0.0005;  // as in servo_test.cpp
  CHECK(s->slope_v_per_s < steepest * 1.01);
  CHECK(s->slope_v_per_s > steepest * 0.88);
}

TEST_CASE("servo: tracks of several parts are counted, and their rate and balance are those of the whole", "[disc]") {
  Shaped record(2.4 * part_s, 1e6, [](double t) { return 2.6 + 0.5 * std::sin(2 * pi * 800 * t); });
  const auto swing = servo::tracking_swing(record, 2.5).found;
  REQUIRE(swing);
  CHECK(swing->tracks > 800 * 2.4 * part_s - 8);
  CHECK(swing->tracks <= 800 * 2.4 * part_s);
  CHECK(swing->tracks_per_s == Approx(800).epsilon(1e-3));
  CHECK(swing->height_v == Approx(1.0).epsilon(0.02));
  REQUIRE(swing->balance);
  CHECK(*swing->balance == Approx(0.1).margin(0.005));
}

TEST_CASE("servo: a record without samples or with a rate that is none says so", "[disc]") {
  Shaped empty(0, 1e6, sweeps);
  CHECK(servo::s_curve(empty, std::nullopt).why_not.find("0 samples") != std::string::npos);
  for (const double rate : {0.0, -1.0, std::numeric_limits<double>::quiet_NaN()}) {
    CAPTURE(rate);
    Shaped record(0.001, 1e6, [](double) { return 2.5; });
    record.say_rate(rate);
    const auto sought = servo::tracking_swing(record, std::nullopt);
    CHECK_FALSE(sought.found);
    CHECK_FALSE(sought.why_not.empty());
  }
}
