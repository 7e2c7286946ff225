// SPDX-License-Identifier: Apache-2.0
// Sweeps against ground truth: asymmetry, levels and rate as the renderer made them, closed form at the places of the
// edges. Mean errors must stay below a tenth of the tolerances of tests/data/waveforms/judge.py, and errors must spread
// as the noise predicts, no more. On failure the ratios are printed; the spread of 30 values is known to 13 %.
#include <catch2/catch.hpp>

#include <cmath>
#include <functional>

#include "core/disc/analysis.hpp"
#include "core/disc/eye/moments.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr int records = 30;
constexpr double four_deviations = 1 + 4 * 0.13;
constexpr double noise_v = 0.01, edge_jitter_t = 0.03;

// One figure over a sweep.
class Figure {
 public:
  Figure(const char* name, double tolerance) : name_(name), tolerance_(tolerance) {}

  void add(double found, double truth, double predicted_deviation) {
    errors_.add(found - truth);
    predicted_ += predicted_deviation * predicted_deviation;
  }
  void check() const {
    const double spread_over_prediction = std::sqrt(errors_.scatter() / predicted_);
    const double mean_over_tenth = errors_.mean() / (0.1 * tolerance_);
    INFO(name_);
    CAPTURE(mean_over_tenth, spread_over_prediction);
    CHECK(std::abs(mean_over_tenth) < 1);
    CHECK(spread_over_prediction < four_deviations);
  }

 private:
  const char* name_;
  double tolerance_;
  eye::Moments errors_;
  double predicted_ = 0;
};

// `part` goes from -1 to 1 over the sweep.
void sweep(const std::function<void(support::EyeSettings&, double)>& set) {
  Figure i11("I11", 0.01), i3("I3", 0.02), asymmetry("asymmetry", 0.01), rate("channel rate", 100e-6);
  for (int n = 0; n < records; ++n) {
    support::EyeSettings settings;
    settings.seed = 100 + static_cast<std::uint64_t>(n);
    settings.duration_s = 0.004;
    settings.noise_v = noise_v;
    settings.edge_jitter_t = edge_jitter_t;
    set(settings, 2.0 * n / (records - 1) - 1);
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
    REQUIRE(a.asymmetry);
    // The centre of a 3T run is read through four samples, whose weights keep about 0.9 of the noise of one.
    const double deviation3 = 0.9 * settings.noise_v / std::sqrt(0.5 * static_cast<double>(a.runs[3]));
    const double height = eye.truth.i11_v, deviation11 = *a.level_standard_error_v;
    i11.add(*a.level.i11_v / height, 1, deviation11 / height);
    i3.add(*a.level.i3_v / height, eye.truth.i3_v / height, std::sqrt(2.0) * deviation3 / height);
    asymmetry.add(*a.asymmetry, eye.truth.asymmetry,
                  std::hypot(0.5 * deviation11, deviation3 / std::sqrt(2.0)) / height);
    // Lengths add up: only the first and the last edge count.
    const double bits = settings.duration_s * settings.channel_rate_hz;
    rate.add(*a.channel_rate_hz / eye.truth.channel_rate_hz, 1, std::sqrt(2.0) * (edge_jitter_t + 0.05) / bits);
  }
  i11.check();
  i3.check();
  asymmetry.check();
  rate.check();
}

}  // namespace

TEST_CASE("sweep: asymmetry over the range of the standard", "[disc]") {
  sweep([](support::EyeSettings& settings, double part) { settings.pit_longer_t = 0.9 * part; });
}

TEST_CASE("sweep: level from a fifth to three times the usual, noise in proportion", "[disc]") {
  sweep([](support::EyeSettings& settings, double part) {
    const double height = 1.3 * std::pow(3.9, part) * 0.77;
    settings.bottom_v = 0.7;
    settings.top_v = 0.7 + height;
    settings.noise_v = noise_v * height / 1.3;
  });
}

TEST_CASE("sweep: channel rate 5 % to either side", "[disc]") {
  sweep([](support::EyeSettings& settings, double part) { settings.channel_rate_hz *= 1 + 0.05 * part; });
}

TEST_CASE("sweep: blur from a sharp to a soft spot", "[disc]") {
  sweep([](support::EyeSettings& settings, double part) { settings.blur_t = 1.15 + 0.25 * part; });
}
