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
      end_(lattice.found() ? std::min(edges.from(to), edges.size() - 1) : edge_) {
  const auto last_sample = static_cast<double>(survey.samples - 1);
  while (end_ > edge_ && edges.at[end_] > last_sample) --end_;
}

// A run of no legal length spoils its neighbours; where a lock begins or ends there is no neighbour.
void UsableRuns::leave_out_spoilt(std::size_t first, std::size_t count) {
  const std::size_t from = first > 0 ? first - 1 : 0, to = std::min(first + count + 1, lattice_.length.size());
  for (std::size_t k = clock::next_run(lattice_.length, 0, from, to); k < to;
       k = clock::next_run(lattice_.length, 0, k + 1, to)) {
    if (!lattice_.inside(k)) continue;
    if (k > first) length_[k - 1 - first] = 0;
    if (k + 1 >= first && k + 1 < first + count) length_[k + 1 - first] = 0;
  }
}

void UsableRuns::leave_out_dimmed(std::size_t first, std::size_t count) {
  const auto is_dimmed = [&](double at) {
    return survey_.block_dimmed[survey_.block_of(static_cast<std::size_t>(at))] != 0;
  };
  for (std::size_t i = 0; i < count; ++i) {
    if (is_dimmed(edges_.at[first + i]) || is_dimmed(edges_.at[first + i + 1])) length_[i] = 0;
  }
}

Runs UsableRuns::next() {
  const std::size_t first = edge_, count = std::min(Runs::most, end_ - std::min(end_, edge_));
  edge_ += count;
  std::copy_n(lattice_.length.begin() + static_cast<std::ptrdiff_t>(first), count, length_.begin());
  for (std::size_t i = 0; i < count;) {
    const std::size_t window_ends =
        (first + i) / clock::LocalClock::edges_each * clock::LocalClock::edges_each + clock::LocalClock::edges_each;
    const std::size_t n = std::min(count - i, window_ends - (first + i));
    std::fill_n(period_.begin() + static_cast<std::ptrdiff_t>(i), n, static_cast<float>(local_.period(first + i)));
    i += n;
  }
  if (count > 0) leave_out_spoilt(first, count);
  if (any_dimmed_) leave_out_dimmed(first, count);
  const std::span at(edges_.at);
  return {at.subspan(first, count),
          at.subspan(count > 0 ? first + 1 : first, count),
          {length_.data(), count},
          {period_.data(), count},
          std::span(edges_.level).subspan(first, count),
          std::span(lattice_.late).subspan(first, count),
          edges_.rises(first)};
}

}  // namespace eyelevel::disc::eye
