// SPDX-License-Identifier: Apache-2.0
// Count, mean and scatter of values that come one by one. Sums are taken about the first value, so that nothing is
// lost where the scatter is small against the mean.
#pragma once

#include <algorithm>
#include <cstdint>

namespace eyelevel::disc::eye {

class Moments {
 public:
  void add(double value) {
    if (count_ == 0) reference_ = value;
    const double off = value - reference_;
    ++count_;
    sum_ += off;
    squares_ += off * off;
  }
  std::int64_t count() const { return count_; }
  // 0 without values.
  double mean() const { return count_ > 0 ? reference_ + sum_ / static_cast<double>(count_) : 0; }
  // Sum of squares about the mean.
  double scatter() const {
    return count_ > 0 ? std::max(0.0, squares_ - sum_ * sum_ / static_cast<double>(count_)) : 0;
  }

 private:
  std::int64_t count_ = 0;
  double reference_ = 0, sum_ = 0, squares_ = 0;
};

}  // namespace eyelevel::disc::eye
