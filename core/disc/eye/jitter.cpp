// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/jitter.hpp"

#include <algorithm>
#include <cmath>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::eye {

namespace {

RunGroup group_of(const Sums& sums) {
  RunGroup out;
  out.count = static_cast<std::int64_t>(sums.count);
  if (sums.count > 0) out.length_error = sums.sum / sums.count;
  if (sums.count > 1) out.jitter = std::sqrt(sums.scatter() / sums.count);
  return out;
}

}  // namespace

void EdgeJitter::take(const Runs& runs) { kernels::add_all(runs.late, runs.length, late_); }

std::optional<double> EdgeJitter::result() const {
  if (late_.count < 2) return std::nullopt;
  return std::sqrt(late_.scatter() / late_.count);
}

void RunLengthJitter::take(const Runs& runs) {
  std::array<float, Runs::most> excess;
  kernels::excess(runs, excess.data());
  kernels::add_by_length({excess.data(), runs.size()}, runs.length, runs.first_high, excess_);
}

Jitter RunLengthJitter::result() const {
  Jitter jitter;
  double scatter = 0, count = 0;
  for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
    const Sums &low = excess_[0][n], &high = excess_[1][n];
    jitter.low[n] = group_of(low);
    jitter.high[n] = group_of(high);
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
