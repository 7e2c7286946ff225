// SPDX-License-Identifier: Apache-2.0
#include "sim/disc/optics.hpp"

#include <boost/math/special_functions/erf.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

namespace eyelevel::sim {
namespace {

using std::numbers::pi;
using std::numbers::sqrt2;

constexpr double channel_rate_1x = 4.3218e6;
constexpr double cutoff_per_um = 2 * numerical_aperture / wavelength_um;

// Levels of the ideal two-dimensional read-out, 1 = mirror: rim 50 %, pits 0.5 um x 85 nm, random neighbours.
constexpr double ideal_top = 0.971, ideal_mean = 0.616;

// A factor given at some sizes of an error, even in the error: straight lines over its square; contrast beyond the last
// point falls as a Gaussian that goes on with the last slope.
template <std::size_t N>
double factor_at(const std::array<double, N>& sizes, const std::array<double, N>& factors, double size, bool contrast) {
  const double x = size * size;
  std::size_t i = 1;
  while (i + 1 < N && x > sizes[i] * sizes[i]) ++i;
  const double x0 = sizes[i - 1] * sizes[i - 1], x1 = sizes[i] * sizes[i];
  if (x <= x1) return factors[i - 1] + (factors[i] - factors[i - 1]) * (x - x0) / (x1 - x0);
  if (!contrast) return factors[i];
  const double fall = std::log(factors[i - 1] / factors[i]) / (x1 - x0);
  return factors[i] * std::exp(-fall * (x - x1));
}

// Relative to defocus 0, from the table of the read-out: I11, I3, mean.
constexpr std::array<double, 7> defocus_um = {0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0};
constexpr std::array<double, 7> defocus_i11 = {
    1, 0.697 / 0.701, 0.679 / 0.701, 0.649 / 0.701, 0.609 / 0.701, 0.560 / 0.701, 0.503 / 0.701};
constexpr std::array<double, 7> defocus_i3 = {
    1, 0.474 / 0.479, 0.452 / 0.479, 0.414 / 0.479, 0.363 / 0.479, 0.303 / 0.479, 0.238 / 0.479};
constexpr std::array<double, 7> defocus_mean = {
    1, 0.617 / 0.616, 0.623 / 0.616, 0.633 / 0.616, 0.647 / 0.616, 0.663 / 0.616, 0.680 / 0.616};

constexpr std::array<double, 5> offset_um = {0, 0.1, 0.2, 0.3, 0.4};
constexpr std::array<double, 5> offset_contrast = {1, 0.975, 0.90, 0.79, 0.66};
constexpr std::array<double, 5> offset_mean = {1, 1.016, 1.06, 1.13, 1.20};

constexpr std::array<double, 4> tilt_deg = {0, 0.5, 1.0, 1.5};
constexpr std::array<double, 4> radial_tilt_i11 = {1, 0.98, 0.90, 0.79};
constexpr std::array<double, 4> radial_tilt_i3 = {1, 0.98, 0.91, 0.80};
constexpr std::array<double, 4> radial_tilt_mean = {1, 1.01, 1.04, 1.08};
constexpr std::array<double, 4> tangential_tilt_i11 = {1, 0.99, 0.93, 0.85};
constexpr std::array<double, 4> tangential_tilt_i3 = {1, 0.96, 0.86, 0.71};
constexpr std::array<double, 4> tangential_tilt_mean = {1, 1.00, 1.02, 1.04};

// Noise from the neighbouring tracks grows with the errors; squares are added to that of an ideal spot.
constexpr double neighbour_noise_ideal = 0.005;
constexpr double neighbour_noise_per_um = 0.00433;         // 1.0 % at 2 um
constexpr double neighbour_noise_per_tilt_degree = 0.015;  // 0.9 % at 0.5, 1.6 % at 1 degree

}  // namespace

double mtf(double frequency_over_cutoff) {
  const double v = std::abs(frequency_over_cutoff);
  if (v >= 1) return 0;
  return 2 / pi * (std::acos(v) - v * std::sqrt(1 - v * v));
}

double otf(double frequency_over_cutoff, double defocus) {
  const double shift = 2 * std::abs(frequency_over_cutoff);  // of the two pupils, radius 1
  if (shift >= 2) return 0;
  // Defocus is a phase of the pupil that grows as the square of the radius: z NA^2 / 2 at the rim. Between the shifted
  // pupils that is a phase linear in x, integrated over the lens-shaped overlap (Hopkins 1955).
  const double slope = 2 * pi / wavelength_um * defocus * numerical_aperture * numerical_aperture * shift;
  const double half_width = 1 - shift / 2;
  constexpr int steps = 2000;  // Simpson; the square root at the tip leaves 1e-6
  double sum = 0;
  for (int i = 0; i <= steps; ++i) {
    const double x = half_width * i / steps;
    const double edge = x + shift / 2;
    const double value = std::cos(slope * x) * std::sqrt(std::max(0.0, 1 - edge * edge));
    sum += value * (i == 0 || i == steps ? 1 : i % 2 == 0 ? 2 : 4);
  }
  return 4 / pi * sum * half_width / (3 * steps);
}

double pattern_amplitude(int run_t, double speed_m_s, double defocus) {
  const double bit_um = speed_m_s / channel_rate_1x * 1e6;
  const double fundamental = 1 / (2 * run_t * bit_um) / cutoff_per_um;
  std::vector<double> harmonics;  // 1, 3, 5, ... of a square wave, as far as they pass
  for (int harmonic = 1; harmonic * fundamental < 1; harmonic += 2)
    harmonics.push_back(4 / (pi * harmonic) * otf(harmonic * fundamental, defocus));
  // The wave is odd about its edge and even about the centre of a run; the top of its ripple need not be at the centre.
  constexpr int steps = 360;
  double top = 0;
  for (int i = 0; i <= steps; ++i) {
    double value = 0;
    for (std::size_t k = 0; k < harmonics.size(); ++k)
      value += harmonics[k] * std::sin(static_cast<double>(2 * k + 1) * 0.5 * pi * i / steps);
    top = std::max(top, value);
  }
  return top;
}

ReadOut read_out(const SpotError& error) {
  const double z = std::abs(error.defocus_um), offset = std::abs(error.radial_offset_um);
  const double radial = std::abs(error.radial_tilt_deg), tangential = std::abs(error.tangential_tilt_deg);
  ReadOut out;
  out.i11 = factor_at(defocus_um, defocus_i11, z, true) * factor_at(offset_um, offset_contrast, offset, true) *
            factor_at(tilt_deg, radial_tilt_i11, radial, true) *
            factor_at(tilt_deg, tangential_tilt_i11, tangential, true);
  out.i3 = factor_at(defocus_um, defocus_i3, z, true) * factor_at(offset_um, offset_contrast, offset, true) *
           factor_at(tilt_deg, radial_tilt_i3, radial, true) *
           factor_at(tilt_deg, tangential_tilt_i3, tangential, true);
  out.mean = factor_at(defocus_um, defocus_mean, z, false) * factor_at(offset_um, offset_mean, offset, false) *
             factor_at(tilt_deg, radial_tilt_mean, radial, false) *
             factor_at(tilt_deg, tangential_tilt_mean, tangential, false);
  // What lands rise above the mean shrinks with the contrast.
  out.top = (ideal_mean * out.mean + (ideal_top - ideal_mean) * out.i11) / ideal_top;
  const double from_focus = neighbour_noise_per_um * z;
  const double from_tilt = neighbour_noise_per_tilt_degree * radial;
  out.neighbour_noise = std::hypot(neighbour_noise_ideal, from_focus, from_tilt);
  return out;
}

double i3_over_i11_of_blur(double sigma_t) { return 2 * std::erf(1.5 / (sigma_t * sqrt2)) - 1; }

double blur_of_i3_over_i11(double ratio) {
  // The ratio falls as the blur grows: halve the interval.
  const double wanted = std::clamp(ratio, 0.15, 0.98);
  double low = 0.3, high = 3;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (i3_over_i11_of_blur(middle) > wanted ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

double pit_lengthening_of_asymmetry(double asymmetry, double sigma_t) {
  // Peak of a 3T land shortened by d: 2 erf((1.5 - d/2) / (sigma sqrt 2)) - 1; trough of a 3T pit likewise.
  // ECMA-130 12.3: asymmetry = (centre of 11T - centre of 3T) / I11, with the centre of 11T at 0 and I11 = 2.
  const double scale = 1 / (sigma_t * sqrt2);
  const auto asymmetry_of = [scale](double d) {
    return 0.5 * (std::erf((1.5 + d / 2) * scale) - std::erf((1.5 - d / 2) * scale));
  };
  constexpr double most_t = 1.5;
  double low = 0, high = most_t;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (asymmetry_of(middle) < std::abs(asymmetry) ? low : high) = middle;
  }
  return std::copysign(0.5 * (low + high), asymmetry);
}

EdgeBlur blur_of(double i3_over_i11, double asymmetry) {
  // Peak and trough of the 3T runs give erf of half their lengths, hence both lengths in units of the blur.
  const double middle = 0.5 * (std::clamp(i3_over_i11, 0.15, 0.98) + 1);
  const double most = std::min(0.9995 - middle, middle - 0.02);
  const double tilt = std::clamp(asymmetry, -most, most);
  const double pit = boost::math::erf_inv(middle + tilt), land = boost::math::erf_inv(middle - tilt);
  return {.sigma_t = 3 / (sqrt2 * (pit + land)), .pit_lengthening_t = 3 * (pit - land) / (pit + land)};
}

double edge_response(double distance_t, double sigma_t) {
  const double x = std::clamp(distance_t / sigma_t, -blur_reach, blur_reach);
  static const double tail = 0.5 * std::erfc(blur_reach / sqrt2);
  return (0.5 * std::erfc(-x / sqrt2) - tail) / (1 - 2 * tail);
}

double edge_response_integral(double distance_t, double sigma_t) {
  static const double tail = 0.5 * std::erfc(blur_reach / sqrt2);
  static const auto primitive = [](double x) {  // of (Phi - tail) / (1 - 2 tail)
    const double phi = std::exp(-0.5 * x * x) / std::sqrt(2 * pi);
    return (x * 0.5 * std::erfc(-x / sqrt2) + phi - tail * x) / (1 - 2 * tail);
  };
  const double x = distance_t / sigma_t;
  if (x <= -blur_reach) return 0;
  const double inside = std::min(x, blur_reach);
  return sigma_t * (primitive(inside) - primitive(-blur_reach) + (x - inside));
}

}  // namespace eyelevel::sim
