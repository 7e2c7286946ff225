// SPDX-License-Identifier: Apache-2.0
// Whether a CSV file's times are evenly spaced, looked at one by one: nothing is kept but where they depart most. A
// lost or doubled line is found by its step, times that run away by their place between the first and the last.
#pragma once

#include <cstddef>
#include <vector>

#include "core/signal/stored.hpp"

namespace eyelevel::signal {

// What must be known before the times are looked at.
struct CsvTimeSpan {
  std::size_t count = 0;  // of times, 2 or more
  double first_s = 0, last_s = 0;
  double usual_step_s = 0;

  double step_s() const { return (last_s - first_s) / static_cast<double>(count - 1); }
};

// The median step of the first times, two or more. In a few lines the mean hides a lost one.
double usual_step_in(const std::vector<double>& times_s);

class CsvTimes {
 public:
  explicit CsvTimes(const CsvTimeSpan& span) : span_(span) {}

  // The next time and the number of its line.
  void take(double time_s, std::size_t line);
  // False once a time was not where it should be; which is worst shows at the end only.
  bool are_even() const { return even_; }
  // After the last time; throws Error(bad_input) with the line if they are not evenly spaced.
  void require_even(const ReadOptions& options) const;

 private:
  struct Step {
    double from_s = 0, to_s = 0;
    std::size_t line = 0;  // 0: there is none
  };

  CsvTimeSpan span_;
  std::size_t taken_ = 0;
  double before_s_ = 0;
  bool even_ = true;
  std::size_t second_line_ = 0;
  Step backwards_;  // the first
  Step worst_;      // that departs most from the usual one
};

}  // namespace eyelevel::signal
