// SPDX-License-Identifier: Apache-2.0
// Optics figures: two-dimensional read-out of the design notes, relative to perfect focus; tolerance 0.02 as stated
// there.
#include "sim/player/loaded_disc.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "sim/disc/optics.hpp"
#include "tests/sim/player/discs.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

LoadedDisc loaded(double focus_offset_um, double residual_um = 0, const Disc& disc = test::flat_disc()) {
  auto player = ideal_player({});
  player.focus_offset_um = focus_offset_um;
  player.focus_residual_um = residual_um;
  return {test::shared(disc), player, base::Random(1)};
}

double i11(const EyeLight& eye) { return eye.land - eye.pit; }
double mean(const EyeLight& eye) { return (eye.land + eye.pit) / 2; }

}  // namespace

TEST_CASE("loaded disc: a flat disc in focus gives its own light and modulation", "[player]") {
  const auto eye = loaded(0).eye(100, 1);
  CHECK(eye.land == Approx(1).margin(1e-12));
  CHECK(i11(eye) == Approx(0.70).margin(1e-12));
  CHECK(loaded(0).eye(100, 1.3).land == Approx(1.3).margin(1e-12));
}

TEST_CASE("loaded disc: defocus of 2 um takes I11 to 0.869, I3 to 0.757, the mean to 1.050, rise over p-p to 1.208",
          "[player]") {
  const auto sharp = loaded(0).eye(100, 1), blurred = loaded(2).eye(100, 1);
  CHECK(i11(blurred) / i11(sharp) == Approx(0.869).margin(0.02));
  CHECK(i11(blurred) * blurred.i3_over_i11 / (i11(sharp) * sharp.i3_over_i11) == Approx(0.757).margin(0.02));
  CHECK(mean(blurred) / mean(sharp) == Approx(1.050).margin(0.02));
  CHECK(mean(blurred) / i11(blurred) / (mean(sharp) / i11(sharp)) == Approx(1.208).margin(0.02));
}

TEST_CASE("loaded disc: bobbing with z0 1 um and a 0.5 um swings I11 by 3.3 % once and by 0.4 % twice per turn",
          "[player]") {
  const auto disc = loaded(1, 0.5);
  constexpr int angles = 256;
  double average = 0, once_in = 0, once_out = 0, twice_in = 0, twice_out = 0;
  for (int i = 0; i < angles; ++i) {
    const double turns = static_cast<double>(i) / angles;
    const double level = i11(disc.eye(100, turns, 1));
    const double angle = 2 * std::numbers::pi * turns;
    average += level / angles;
    once_in += level * std::cos(angle) * 2 / angles;
    once_out += level * std::sin(angle) * 2 / angles;
    twice_in += level * std::cos(2 * angle) * 2 / angles;
    twice_out += level * std::sin(2 * angle) * 2 / angles;
  }
  CHECK(100 * std::hypot(once_in, once_out) / average == Approx(3.3).margin(0.4));
  CHECK(100 * std::hypot(twice_in, twice_out) / average == Approx(0.4).margin(0.1));
}

TEST_CASE("loaded disc: the focus residual grows as light falls, unless the loop gain is normalised", "[player]") {
  auto player = ideal_player({});
  player.focus_residual_um = 0.4;
  const LoadedDisc plain(test::shared(test::flat_disc()), player, base::Random(1));
  player.model.normalises_loop_gain = true;
  const LoadedDisc normalised(test::shared(test::flat_disc()), player, base::Random(1));
  const auto swing = [](const LoadedDisc& disc, double light) {
    double largest = 0;
    for (double turns = 0; turns < 1; turns += 0.001) largest = std::max(largest, disc.lens_defocus_um(turns, light));
    return largest;
  };
  CHECK(swing(plain, 1.2) == Approx(0.4).epsilon(1e-4));
  CHECK(swing(plain, 0.5) == Approx(0.8).epsilon(1e-4));
  CHECK(swing(normalised, 0.5) == Approx(0.4).epsilon(1e-4));
}

TEST_CASE("loaded disc: 70 um of eccentricity at 1.3 m/s is a time error of 53.8 us at every radius", "[player]") {
  auto disc = test::flat_disc();
  disc.eccentricity_um = 70;
  const auto eccentric = loaded(0, 0, disc);
  double largest_s = 0;
  for (double turns = 0; turns < 1; turns += 0.001) largest_s = std::max(largest_s, eccentric.time_error_s(turns));
  CHECK(largest_s * 1e6 == Approx(53.8).margin(0.05));
}

TEST_CASE("loaded disc: level dips twice per turn by up to 3 % on an eccentric disc", "[player]") {
  auto disc = test::flat_disc();
  disc.eccentricity_um = 100;
  const auto eccentric = loaded(0, 0, disc);
  double lowest = 9, highest = 0;
  for (double turns = 0; turns < 1; turns += 0.001) {
    const double level = i11(eccentric.eye(100, turns, 1));
    lowest = std::min(lowest, level);
    highest = std::max(highest, level);
  }
  CHECK(lowest / highest == Approx(0.97).margin(1e-4));
}

TEST_CASE("loaded disc: film on the lens takes the light twice", "[player]") {
  auto player = ideal_player({});
  player.film_transmission = 0.9;
  const LoadedDisc dirty(test::shared(test::flat_disc()), player, base::Random(1));
  CHECK(dirty.eye(100, 1).land == Approx(0.81).margin(1e-12));
  CHECK(dirty.servo_light(1) == Approx(0.81).margin(1e-12));
}

TEST_CASE("loaded disc: clamping turns and shifts a disc anew each time", "[player]") {
  auto player = ideal_player({});
  player.spindle_eccentricity_m = 20e-6;
  auto disc = test::flat_disc();
  disc.eccentricity_um = 20;
  const LoadedDisc first(test::shared(disc), player, base::Random(1)),
      second(test::shared(disc), player, base::Random(2));
  CHECK(first.eccentricity_m() != second.eccentricity_m());
  CHECK(first.eccentricity_m() <= 40e-6);
}

TEST_CASE("loaded disc: 11T runs are settled at their centre to 0.01 % for a good spot", "[player]") {
  // Two edges 5.5T away, each short of its step by erfc(5.5/(sigma sqrt 2)).
  for (const double sigma_t : {1.1, 1.3, 1.6, 1.8}) {
    const double ratio = i3_over_i11_of_blur(sigma_t);
    CHECK(1 - settled_share(ratio) == Approx(2 * std::erfc(5.5 / sigma_t / std::numbers::sqrt2)).margin(2e-5));
  }
  CHECK(1 - settled_share(i3_over_i11_of_blur(1.3)) < 1e-4);
}
