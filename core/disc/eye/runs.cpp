// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/runs.hpp"

#include <algorithm>

namespace eyelevel::disc::eye {

UsableRuns::UsableRuns(const clock::Edges& edges, const clock::Lattice& lattice, const clock::LocalClock& local,
                       const clock::Survey& survey, double from, double to)
    : edges_(edges),
      lattice_(lattice),
      local_(local),
      survey_(survey),
      any_dimmed_(std::any_of(survey.block_dimmed.begin(), survey.block_dimmed.end(), [](auto d) { return d != 0; })),
      edge_(edges.from(std::max(0.0, from))),
      end_(lattice.found() ? std::min(edges.from(to), edges.size() - 1) : edge_) {}

bool UsableRuns::is_usable(std::size_t k) const {
  const double start = edges_.at[k], end = edges_.at[k + 1], last_sample = static_cast<double>(survey_.samples - 1);
  if (end > last_sample || !(end > start)) return false;
  if (!any_dimmed_) return true;
  const auto is_dimmed = [&](double at) {
    return survey_.block_dimmed[survey_.block_of(static_cast<std::size_t>(at))] != 0;
  };
  return !is_dimmed(start) && !is_dimmed(end);
}

std::span<const Run> UsableRuns::next() {
  const auto& length = lattice_.length;
  std::size_t count = 0;
  for (; edge_ < end_ && count < batch_.size(); ++edge_) {
    const std::size_t k = edge_;
    if (length[k] == 0 || !is_usable(k)) continue;
    // A run of no legal length spoils its neighbours; where a lock begins or ends there is no neighbour.
    const bool spoilt_before = k > 0 && length[k - 1] == 0 && lattice_.inside(k - 1);
    const bool spoilt_after = length[k + 1] == 0 && lattice_.inside(k + 1);
    if (spoilt_before || spoilt_after) continue;
    batch_[count++] = {edges_.at[k],
                       edges_.at[k + 1],
                       static_cast<float>(local_.period(k)),
                       edges_.level[k],
                       static_cast<std::int32_t>(length[k]),
                       edges_.rises(k),
                       lattice_.late[k]};
  }
  return {batch_.data(), count};
}

}  // namespace eyelevel::disc::eye
