// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/jitter.hpp"

#include <algorithm>
#include <cmath>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::eye {

void EdgeJitter::take(std::span<const Run> runs) {
  for (const Run& run : runs) {
    const auto late = static_cast<double>(run.late);
    count_ += 1;
    sum_ += late;
    squares_ += late * late;
  }
}

std::optional<double> EdgeJitter::result() const {
  if (count_ < 2) return std::nullopt;
  return std::sqrt(std::max(0.0, squares_ - sum_ * sum_ / count_) / count_);
}

double RunLengthJitter::Group::scatter() const { return count > 0 ? std::max(0.0, squares - sum * sum / count) : 0; }

RunGroup RunLengthJitter::Group::result() const {
  RunGroup out;
  out.count = static_cast<std::int64_t>(count);
  if (count > 0) out.length_error = sum / count;
  if (count > 1) out.jitter = std::sqrt(scatter() / count);
  return out;
}

void RunLengthJitter::take(std::span<const Run> runs) {
  for (const Run& run : runs) {
    Group& group = groups_[run.high ? 1 : 0][static_cast<std::size_t>(run.length)];
    const double off = (run.end - run.start) / static_cast<double>(run.period) - run.length;
    group.count += 1;
    group.sum += off;
    group.squares += off * off;
  }
}

Jitter RunLengthJitter::result() const {
  Jitter jitter;
  double scatter = 0, count = 0;
  for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
    const Group &low = groups_[0][n], &high = groups_[1][n];
    jitter.low[n] = low.result();
    jitter.high[n] = high.result();
    jitter.runs[n] = static_cast<std::int64_t>(low.count + high.count);
    if (std::max(low.count, high.count) < 2) continue;
    jitter.of_length[n] = std::sqrt((low.scatter() + high.scatter()) / (low.count + high.count));
    scatter += low.scatter() + high.scatter();
    count += low.count + high.count;
  }
  if (count > 0) jitter.all = std::sqrt(scatter / count);
  return jitter;
}

}  // namespace eyelevel::disc::eye
