// SPDX-License-Identifier: Apache-2.0
// What the light spot makes of pits and lands: the band limit of a round aperture (incoherent), its loss by defocus,
// and the fits for level, contrast and mean against defocus, tracking offset and tilt. Fits come from a two-dimensional
// read-out computed elsewhere at 1.3 m/s. Also the blurred edge from which the renderer makes its signal.
// Lengths in um where named so, run lengths in channel bits (T). Pure functions.
#pragma once

namespace eyelevel::sim {

inline constexpr double numerical_aperture = 0.45;  // ECMA-130 5.1.1
inline constexpr double wavelength_um = 0.780;

// Modulation transfer at a spatial frequency over the cut-off 2 NA / wavelength (0: 1, from 1 on: 0).
double mtf(double frequency_over_cutoff);
// The same with the lens moved by defocus_um; may be negative.
double otf(double frequency_over_cutoff, double defocus_um);
// Peak-to-peak amplitude of an endless nT/nT pattern, relative to the step between wide pit and wide land. Disc speed
// as recorded, 1.2 to 1.4 m/s (the same at any playing speed).
double pattern_amplitude(int run_t, double speed_m_s, double defocus_um = 0);

// How far the spot is from ideal; signs do not matter.
struct SpotError {
  double defocus_um = 0;
  double radial_offset_um = 0;
  double radial_tilt_deg = 0;
  double tangential_tilt_deg = 0;
};
// Factors on what the ideal spot gives, and noise from the neighbouring tracks relative to the I11 that is left.
struct ReadOut {
  double i11 = 1, i3 = 1, mean = 1, top = 1;
  double neighbour_noise = 0.005;
};
// Valid to 3 um, 0.4 um, 1.5 degrees; beyond, contrast falls off smoothly towards nothing. Factors of several errors
// are multiplied, their noise added as squares.
ReadOut read_out(const SpotError& error);

// I3/I11 of the ideal two-dimensional read-out; a real pickup has 0.6 to 0.9 of it.
inline constexpr double ideal_i3_over_i11 = 0.684;

// A step between wide pit and wide land is blurred by a Gaussian of standard deviation sigma_t. I3/I11 is that of a 3T
// run among long ones, at its centre: 2 erf(1.5 / (sigma sqrt 2)) - 1.
double i3_over_i11_of_blur(double sigma_t);
double blur_of_i3_over_i11(double ratio);  // ratio in (0, 1); clamped to 0.15..0.98, where runs still settle
// By how much pits are lengthened and lands shortened (T) for an asymmetry as ECMA-130 12.3 defines it, of 3T runs
// among long ones. Odd in asymmetry; clamped to what a 3T run can lose.
double pit_lengthening_of_asymmetry(double asymmetry, double sigma_t);
// Both at once. Lengthening pits costs a little of I3 (3 % of it at 8 % asymmetry): this is for a signal whose I3/I11
// is as given whatever the asymmetry. Clamped to what 3T runs can show: |asymmetry| < (1 - ratio) / 2.
struct EdgeBlur {
  double sigma_t = 1.3;
  double pit_lengthening_t = 0;
};
EdgeBlur blur_of(double i3_over_i11, double asymmetry);

// An edge from -1 to +1 goes as 2 edge_response - 1, distance in T from the edge; the Gaussian ends at blur_reach
// standard deviations (6e-5 of a step are shared out), so that everything beyond is settled. The integral starts where
// it is 0.
inline constexpr double blur_reach = 4;
double edge_response(double distance_t, double sigma_t);
double edge_response_integral(double distance_t, double sigma_t);

// Mean run length of random data in the channel code (T); a mean level shifts by -pit lengthening / this.
inline constexpr double mean_run_t = 4.77;

}  // namespace eyelevel::sim
