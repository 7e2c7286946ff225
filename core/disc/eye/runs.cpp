// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/runs.hpp"

#include <algorithm>

namespace eyelevel::disc::eye {

std::vector<Run> usable_runs(const clock::Edges& edges, const clock::Lattice& lattice, const clock::Balance& balance,
                             const clock::Survey& survey) {
  std::vector<Run> runs;
  if (!lattice.found()) return runs;
  const auto legal = clock::legal_runs(lattice, edges.size());
  const auto last_sample = static_cast<double>(survey.samples - 1);
  const bool any = std::any_of(survey.block_dimmed.begin(), survey.block_dimmed.end(), [](auto d) { return d != 0; });
  const auto is_dimmed = [&](double at) {
    if (!any) return false;
    return survey.block_dimmed[survey.block_of(static_cast<std::size_t>(std::clamp(at, 0.0, last_sample)))] != 0;
  };
  runs.reserve(edges.size());
  for (const clock::Stretch& s : lattice.stretches) {
    for (std::size_t k = s.first; k < s.last; ++k) {
      const bool before = k == s.first || legal[k - 1] != 0, after = k + 1 == s.last || legal[k + 1] != 0;
      if (legal[k] == 0 || !before || !after || is_dimmed(edges.at[k]) || is_dimmed(edges.at[k + 1])) continue;
      if (edges.at[k] < 0 || edges.at[k + 1] > last_sample || edges.run(k) <= 0) continue;
      runs.push_back({edges.at[k], edges.at[k + 1], static_cast<float>(balance.period[k]),
                      static_cast<float>(balance.level[k]),
                      static_cast<std::int32_t>(lattice.bit[k + 1] - lattice.bit[k]), edges.rises(k)});
    }
  }
  return runs;
}

}  // namespace eyelevel::disc::eye
