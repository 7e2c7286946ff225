// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/jitter.hpp"

#include <algorithm>
#include <cmath>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::eye {
namespace {

struct Group {
  double count = 0, sum = 0, squares = 0;  // of length minus n, channel bits

  double scatter() const { return count > 0 ? std::max(0.0, squares - sum * sum / count) : 0; }
};

RunGroup group_of(const Group& group) {
  RunGroup out;
  out.count = static_cast<std::int64_t>(group.count);
  if (group.count > 0) out.length_error = group.sum / group.count;
  if (group.count > 1) out.jitter = std::sqrt(group.scatter() / group.count);
  return out;
}

}  // namespace

Jitter run_length_jitter(std::span<const Run> runs) {
  std::array<std::array<Group, 12>, 2> groups{};
  for (const Run& run : runs) {
    Group& group = groups[run.high ? 1 : 0][static_cast<std::size_t>(run.length)];
    const double off = (run.end - run.start) / static_cast<double>(run.period) - run.length;
    group.count += 1;
    group.sum += off;
    group.squares += off * off;
  }
  Jitter jitter;
  double scatter = 0, count = 0;
  for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
    const Group &low = groups[0][n], &high = groups[1][n];
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
