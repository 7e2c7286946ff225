// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_times.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/signal/detail/refusal.hpp"

namespace eyelevel::signal {

namespace {

// Of a sample: a lost line puts some time off by half a sample or more, rounding to a printed digit by less.
constexpr double most_off = 0.4;
// Of the usual step: a lost line makes a step of two.
constexpr double most_leap = 0.75;

}  // namespace

double usual_step_in(const std::vector<double>& times_s) {
  std::vector<double> steps(times_s.size() - 1);
  for (std::size_t i = 0; i < steps.size(); ++i) steps[i] = times_s[i + 1] - times_s[i];
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>((steps.size() - 1) / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

void CsvTimes::take(double time_s, std::size_t line) {
  if (taken_ > 0) {
    const Step step{before_s_, time_s, line};
    const auto departure = [&](const Step& s) { return std::abs(s.to_s - s.from_s - span_.usual_step_s); };
    if (taken_ == 1) second_line_ = line;
    if (taken_ == 1 || departure(step) > departure(worst_)) worst_ = step;
    if (time_s < before_s_ && backwards_.line == 0) backwards_ = step;
    const double off = (time_s - span_.first_s) / span_.step_s() - static_cast<double>(taken_);
    // Written so that what is no number is uneven.
    even_ = even_ && departure(step) <= most_leap * span_.usual_step_s && std::abs(off) <= most_off;
  }
  before_s_ = time_s;
  ++taken_;
}

void CsvTimes::require_even(const ReadOptions& options) const {
  if (backwards_.line > 0) {
    detail::refuse({&options, backwards_.line},
                   fmt::format("time goes backwards: {:.9g} s after {:.9g} s, expected to rise", backwards_.to_s,
                               backwards_.from_s),
                   "one record per file; were two joined?");
  }
  const double step_s = span_.step_s();
  if (!(step_s > 0) || !std::isfinite(step_s) || !std::isfinite(1 / step_s)) {
    detail::refuse({&options, second_line_},
                   fmt::format("times run from {} s to {} s, expected to rise", span_.first_s, span_.last_s),
                   "if this column is no time, keep the column of volts and give --rate");
  }
  if (even_) return;
  detail::refuse({&options, worst_.line},
                 fmt::format("time {:.9g} s comes {:.6g} s after the one before, expected {:.6g} s as between most "
                             "others",
                             worst_.to_s, worst_.to_s - worst_.from_s, span_.usual_step_s),
                 "samples must be evenly spaced: were lines lost? If the times are only rounded, keep the volts and "
                 "give --rate");
}

}  // namespace eyelevel::signal
