// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/settling.hpp"

#include <algorithm>
#include <cmath>

#include "core/sequence/verb/audio_watch.hpp"

namespace eyelevel::sequence {

namespace {

// Robust spread: 1.4826 times the median absolute deviation is the standard deviation of normal values.
constexpr double mad_to_sd = 1.4826;
constexpr double sd_most = 5;
// However alike the captures are, a share of I3/I11 that is only counting noise of a short record.
constexpr double share_least = 0.06;
// However unlike they are, I3/I11 below this share of the better ones is out of focus (about 2.1 um of lens movement at
// NA 0.45 in scalar diffraction).
constexpr double floor_share = 0.85;
constexpr double better = 0.9;  // quantile
// Share of clipped samples that only cuts peaks of the noise off. The plateaus of 11T are some 5 % of the samples at
// either end: with a tenth of them beyond the screen their mean lies 1.3 standard deviations inside, and cutting the
// noise there moves it by less than 0.05 standard deviations of one sample.
constexpr double clipped_most = 0.005;

double quantile(std::vector<double> values, double p) {
  const auto at = static_cast<std::ptrdiff_t>(std::floor(p * static_cast<double>(values.size() - 1) + 0.5));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

}  // namespace

void Settling::push(const disc::Analysis& analysis) {
  Seen seen;
  if (analysis.clipped_share > clipped_most) {
    seen.reason = "clipped";  // first: a clipped eye may not even lock
  } else if (!is_locked(analysis) || !analysis.level.peak_to_peak_v) {
    seen.reason = "no lock";
  } else if (!analysis.i3_over_i11 || !(*analysis.i3_over_i11 > 0)) {
    seen.reason = "focus";
  } else {
    seen.ratio = *analysis.i3_over_i11;
  }
  seen_.push_back(seen);
}

double Settling::least_ratio() const {
  std::vector<double> ratios;
  for (const Seen& s : seen_)
    if (s.reason.empty()) ratios.push_back(s.ratio);
  if (ratios.empty()) return 0;
  const double middle = quantile(ratios, 0.5);
  std::vector<double> deviations;
  deviations.reserve(ratios.size());
  for (const double r : ratios) deviations.push_back(std::abs(r - middle));
  const double spread = mad_to_sd * quantile(deviations, 0.5);
  return std::max(middle - std::max(sd_most * spread, share_least * middle), floor_share * quantile(ratios, better));
}

std::vector<std::string_view> Settling::reasons() const {
  const double least = least_ratio();
  std::vector<std::string_view> all;
  all.reserve(seen_.size());
  for (const Seen& s : seen_) all.push_back(s.reason.empty() && s.ratio < least ? "focus" : s.reason);
  return all;
}

std::int64_t Settling::kept() const {
  const auto all = reasons();
  return std::count(all.begin(), all.end(), std::string_view());
}

}  // namespace eyelevel::sequence
