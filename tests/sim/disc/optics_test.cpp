// SPDX-License-Identifier: Apache-2.0
// Truth: amplitudes worked out from the aperture of ECMA-130 5.1.1 (NA 0.45, 780 nm) elsewhere, given to 0.001, hence
// the tolerance 0.002; two-dimensional read-out elsewhere, fits good to 0.02.
#include "sim/disc/optics.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>

using namespace eyelevel::sim;

TEST_CASE("optics: amplitudes of 3T to 11T patterns are those of the round aperture at 1.2, 1.3 and 1.4 m/s", "[sim]") {
  struct Row {
    double speed_m_s;
    std::array<double, 9> amplitude;
    double ratio;
  };
  constexpr std::array<Row, 3> rows = {{
      {1.2, {0.470, 0.657, 0.767, 0.806, 0.823, 0.837, 0.853, 0.871, 0.888}, 0.529},
      {1.3, {0.526, 0.702, 0.788, 0.816, 0.830, 0.848, 0.866, 0.885, 0.897}, 0.586},
      {1.4, {0.575, 0.741, 0.801, 0.823, 0.840, 0.858, 0.880, 0.895, 0.903}, 0.637},
  }};
  for (const auto& row : rows) {
    for (int run = 3; run <= 11; ++run) {
      INFO(run << "T at " << row.speed_m_s << " m/s");
      CHECK(pattern_amplitude(run, row.speed_m_s) ==
            Approx(row.amplitude.at(static_cast<std::size_t>(run - 3))).margin(0.002));
    }
    CHECK(pattern_amplitude(3, row.speed_m_s) / pattern_amplitude(11, row.speed_m_s) ==
          Approx(row.ratio).margin(0.002));
  }
}

TEST_CASE("optics: the transfer function without defocus is the closed form, and nothing passes the cut-off", "[sim]") {
  for (const double v : {0.0, 0.1, 0.37, 0.5, 0.9, 0.99}) CHECK(otf(v, 0) == Approx(mtf(v)).margin(1e-5));
  CHECK(mtf(0) == Approx(1));
  CHECK(mtf(1) == 0);
  CHECK(otf(1.2, 1) == 0);
  // (2/pi)(acos v - v sqrt(1 - v^2)) at 0.5: 2/pi (pi/3 - sqrt(3)/4).
  CHECK(mtf(0.5) == Approx(2.0 / 3 - std::sqrt(3.0) / (2 * M_PI)).margin(1e-12));
}

TEST_CASE("optics: defocus lowers I3 and I11 as the transfer function of a defocused lens says", "[sim]") {
  struct Row {
    double defocus_um, i3, i11;
  };
  constexpr std::array<Row, 7> rows = {{{0, 0.526, 0.897},
                                        {0.5, 0.516, 0.896},
                                        {1.0, 0.486, 0.891},
                                        {1.5, 0.438, 0.883},
                                        {2.0, 0.377, 0.871},
                                        {2.5, 0.307, 0.853},
                                        {3.0, 0.234, 0.830}}};
  for (const auto& row : rows) {
    INFO("defocus " << row.defocus_um << " um");
    CHECK(pattern_amplitude(3, 1.3, row.defocus_um) == Approx(row.i3).margin(0.002));
    CHECK(pattern_amplitude(11, 1.3, row.defocus_um) == Approx(row.i11).margin(0.002));
    CHECK(pattern_amplitude(11, 1.3, -row.defocus_um) == Approx(row.i11).margin(0.002));
  }
}

TEST_CASE("optics: read-out against defocus follows the fits, the mean rises and contrast is lost", "[sim]") {
  for (double z = 0; z <= 3; z += 0.25) {
    const ReadOut out = read_out({.defocus_um = -z});
    INFO("defocus " << z << " um");
    CHECK(out.i11 == Approx(1 - 0.0325 * z * z).margin(0.02));
    CHECK(out.i3 == Approx(1 - 0.058 * z * z).margin(0.02));
    CHECK(out.mean == Approx(1 + 0.0113 * z * z).margin(0.02));
    CHECK(out.top == Approx(1 - 0.0043 * z * z).margin(0.02));
  }
  const ReadOut two = read_out({.defocus_um = 2});
  CHECK(two.i11 == Approx(0.869).margin(0.002));
  CHECK(two.i3 == Approx(0.757).margin(0.002));
  CHECK(two.mean == Approx(1.050).margin(0.002));
  CHECK(two.mean / two.i11 == Approx(1.208).margin(0.003));  // what a meter sees over the level
}

TEST_CASE("optics: tracking offset and tilt have the factors of the read-out table", "[sim]") {
  CHECK(read_out({.radial_offset_um = 0.2}).i11 == Approx(0.90).margin(1e-9));
  CHECK(read_out({.radial_offset_um = -0.2}).i3 == Approx(0.90).margin(1e-9));
  CHECK(read_out({.radial_offset_um = 0.4}).mean == Approx(1.20).margin(1e-9));
  CHECK(read_out({.radial_tilt_deg = 1.0}).i11 == Approx(0.90).margin(1e-9));
  CHECK(read_out({.radial_tilt_deg = 1.5}).i3 == Approx(0.80).margin(1e-9));
  CHECK(read_out({.tangential_tilt_deg = 1.0}).i11 == Approx(0.93).margin(1e-9));
  CHECK(read_out({.tangential_tilt_deg = 1.5}).i3 == Approx(0.71).margin(1e-9));
  CHECK(read_out({.tangential_tilt_deg = 1.0}).mean == Approx(1.02).margin(1e-9));
}

TEST_CASE("optics: neighbouring tracks are heard more with defocus and radial tilt", "[sim]") {
  // In percent of I11, given to 0.1.
  CHECK(100 * read_out({}).neighbour_noise == Approx(0.5).margin(0.05));
  CHECK(100 * read_out({.defocus_um = 2}).neighbour_noise == Approx(1.0).margin(0.05));
  CHECK(100 * read_out({.radial_tilt_deg = 0.5}).neighbour_noise == Approx(0.9).margin(0.05));
  CHECK(100 * read_out({.radial_tilt_deg = 1.0}).neighbour_noise == Approx(1.6).margin(0.05));
}

TEST_CASE("optics: contrast goes on falling beyond the table and never turns negative", "[sim]") {
  double i11 = 1, i3 = 1;
  for (double z = 0.2; z < 20; z += 0.2) {
    const ReadOut out = read_out({.defocus_um = z});
    CHECK(out.i11 < i11);
    CHECK(out.i3 < i3);
    CHECK(out.i3 >= 0);
    CHECK(out.top > 0);
    i11 = out.i11;
    i3 = out.i3;
  }
  CHECK(i11 < 0.01);
}

TEST_CASE("optics: the blur for a ratio of I3 to I11 gives that ratio back", "[sim]") {
  for (const double ratio : {0.3, 0.4, 0.5, 0.586, 0.7, 0.9})
    CHECK(i3_over_i11_of_blur(blur_of_i3_over_i11(ratio)) == Approx(ratio).margin(1e-9));
  // erf(1.5 / (sigma sqrt 2)) = 0.75 has the argument 0.81342 (tables of the error function).
  CHECK(blur_of_i3_over_i11(0.5) == Approx(1.5 / (0.8134198 * std::sqrt(2.0))).epsilon(1e-6));
}

TEST_CASE("optics: pits lengthened for an asymmetry put the 3T centre where ECMA-130 12.3 wants it", "[sim]") {
  const double sigma = blur_of_i3_over_i11(0.5);
  for (const double asymmetry : {-0.15, -0.05, 0.02, 0.10, 0.20}) {
    const double d = pit_lengthening_of_asymmetry(asymmetry, sigma);
    const double peak = 2 * std::erf((1.5 - d / 2) / (sigma * std::sqrt(2.0))) - 1;
    const double trough = 1 - 2 * std::erf((1.5 + d / 2) / (sigma * std::sqrt(2.0)));
    CHECK((0 - 0.5 * (peak + trough)) / 2 == Approx(asymmetry).margin(1e-9));
    CHECK((d > 0) == (asymmetry > 0));
  }
}

TEST_CASE("optics: blur and lengthening found together give both I3/I11 and asymmetry", "[sim]") {
  for (const double ratio : {0.35, 0.5, 0.65})
    for (const double asymmetry : {-0.1, 0.0, 0.04, 0.12}) {
      const EdgeBlur blur = blur_of(ratio, asymmetry);
      const double root = blur.sigma_t * std::sqrt(2.0);
      const double peak = 2 * std::erf((1.5 - blur.pit_lengthening_t / 2) / root) - 1;
      const double trough = 1 - 2 * std::erf((1.5 + blur.pit_lengthening_t / 2) / root);
      CHECK((peak - trough) / 2 == Approx(ratio).margin(1e-9));
      CHECK(-(peak + trough) / 4 == Approx(asymmetry).margin(1e-9));
      if (asymmetry == 0) CHECK(blur.sigma_t == Approx(blur_of_i3_over_i11(ratio)).margin(1e-9));
    }
}

TEST_CASE("optics: the edge is a Gaussian step but for the ends that are shared out, and its integral fits", "[sim]") {
  constexpr double sigma = 1.3;
  // Cutting at four standard deviations moves 3.2e-5 at either end.
  for (const double x : {-4.0, -1.0, 0.0, 0.5, 3.0})
    CHECK(edge_response(x, sigma) == Approx(0.5 * std::erfc(-x / (sigma * std::sqrt(2.0)))).margin(7e-5));
  CHECK(edge_response(-6, sigma) == 0);
  CHECK(edge_response(6, sigma) == 1);
  // The mean of the step over its own symmetrical surroundings is one half.
  CHECK(edge_response_integral(9, sigma) == Approx(9).margin(1e-12));
  double sum = 0;
  constexpr int steps = 20000;
  for (int i = 0; i < steps; ++i) sum += edge_response(-6 + 8.0 * (i + 0.5) / steps, sigma) * 8.0 / steps;
  CHECK(edge_response_integral(2, sigma) == Approx(sum).margin(1e-6));
}
