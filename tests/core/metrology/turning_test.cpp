// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/turning.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/metrology/combine.hpp"

using namespace eyelevel;

namespace {

struct Readings {
  std::vector<double> times_s, values;
};

// Mean 2.9, once-around 20 mV and twice-around 10 mV of any phase, noise; moments `every_s` apart, uneven by `uneven`.
struct Swinging {
  double turns_per_s = 4.3, once = 0.020, twice = 0.010, drift = 0, noise = 0.0005, every_s = 0.1, uneven = 0.5,
         span_s = 8;

  Readings readings(base::Random& random) const {
    const double a = random.uniform(0, 6.28), b = random.uniform(0, 6.28);
    Readings r;
    for (double t = 0; t < span_s; t += every_s * (1 + uneven * random.uniform())) {
      const double angle = 2 * std::numbers::pi * turns_per_s * t;
      r.times_s.push_back(t);
      r.values.push_back(2.9 + once * std::cos(angle + a) + twice * std::cos(2 * angle + b) +
                         drift * (t / span_s - 0.5) + random.normal(0, noise));
    }
    return r;
  }
};

}  // namespace

TEST_CASE("mean over turns: the stated interval holds the mean as often as it says, swing or not", "[metrology]") {
  // 1000 series each; the share inside scatters by sqrt(0.95 * 0.05/1000) = 0.7 %: four of these.
  const double once = GENERATE(0.0, 0.001, 0.020);
  const double drift = GENERATE(0.0, 0.005);
  base::Random random(5, "mean over turns");
  int inside = 0;
  constexpr int series = 1000;
  for (int i = 0; i < series; ++i) {
    Swinging swinging;
    swinging.turns_per_s = random.uniform(3.3, 9.6);
    swinging.once = once;
    swinging.twice = once / 2;
    swinging.drift = drift;
    const auto r = swinging.readings(random);
    const auto found = metrology::mean_over_turns(r.times_s, r.values).mean;
    inside += std::abs(found.value - 2.9) <= metrology::combine({found.contribution("x")}).expanded_uncertainty;
  }
  CAPTURE(once, drift);
  CHECK(static_cast<double>(inside) / series == Approx(0.95).margin(4 * std::sqrt(0.95 * 0.05 / series)));
}

TEST_CASE("mean over turns: the rate of the turn is found", "[metrology]") {
  base::Random random(6, "rate");
  for (const double turns_per_s : {3.4, 5.0, 8.28, 9.5}) {
    Swinging swinging;
    swinging.turns_per_s = turns_per_s;
    const auto r = swinging.readings(random);
    const auto found = metrology::mean_over_turns(r.times_s, r.values);
    REQUIRE(found.turns_per_s);
    // Half of what 8 s can tell apart is 0.06 Hz; with a swing of forty times the noise it is far better.
    CHECK(*found.turns_per_s == Approx(turns_per_s).margin(0.01));
  }
}

TEST_CASE("mean over turns: readings in step with the turn do not pretend to know better", "[metrology]") {
  // Ten even readings a second of a disc at ten turns a second: each sees the same side. No fit can tell; the plain
  // mean is what there is.
  base::Random random(7, "in step");
  Swinging swinging;
  swinging.turns_per_s = 10;
  swinging.uneven = 0;
  const auto r = swinging.readings(random);
  CHECK_FALSE(metrology::mean_over_turns(r.times_s, r.values).turns_per_s);
}

TEST_CASE("mean over turns: of a constant series it is that constant with nothing to doubt", "[metrology]") {
  const std::vector<double> times{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, values(12, 0.376);
  const auto found = metrology::mean_over_turns(times, values).mean;
  CHECK(found.value == Approx(0.376).epsilon(1e-12));
  CHECK(found.standard_uncertainty < 1e-12);
}

TEST_CASE("mean over turns: few readings are a plain mean, spans of different lengths are refused", "[metrology]") {
  const std::vector<double> times{0, 0.1, 0.2}, values{1, 2, 3};
  CHECK(metrology::mean_over_turns(times, values).mean.value == 2);
  CHECK_THROWS_WITH(metrology::mean_over_turns(std::vector{0.0, 1.0}, values), Catch::Contains("2 times for 3 values"));
}

TEST_CASE("mean over turns: the amplitudes once and twice around are those of the swing", "[metrology]") {
  base::Random random(6, "amplitudes");
  const Swinging swinging{.span_s = 16};
  const Readings r = swinging.readings(random);
  const metrology::MeanOverTurns found = metrology::mean_over_turns(r.times_s, r.values);
  // Each of cosine and sine scatters by noise sqrt(2/n), 0.06 mV: five of these.
  CHECK(found.once == Approx(swinging.once).margin(3e-4));
  CHECK(found.twice == Approx(swinging.twice).margin(3e-4));
}

TEST_CASE("mean over turns: where no swing stands out its amplitudes are none", "[metrology]") {
  base::Random random(7, "no swing");
  const Readings r = Swinging{.once = 0, .twice = 0}.readings(random);
  const metrology::MeanOverTurns found = metrology::mean_over_turns(r.times_s, r.values);
  CHECK(found.once == 0);
  CHECK(found.twice == 0);
}
