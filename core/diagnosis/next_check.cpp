// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/next_check.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace eyelevel::diagnosis {

namespace {

constexpr double gain_least_bits = 0.01;

bool is_looked_at(std::span<const Observation> observations, std::size_t evidence) {
  return std::any_of(observations.begin(), observations.end(),
                     [&](const Observation& o) { return o.evidence == evidence; });
}

bool can_be_asked_for(std::span<const Observation> observations, const Situation& situation, std::size_t evidence) {
  const auto& check = evidences()[evidence].check;
  if (!check || !check->is_safe(situation) || is_looked_at(observations, evidence)) return false;
  return !check->only_after || is_looked_at(observations, *find_evidence(*check->only_after));
}

// Averaged over what the check may show, by what is believed now.
double expected_entropy_bits(const Table& table, const std::vector<double>& belief, std::size_t evidence) {
  double expected = 0;
  for (std::size_t v = 0; v < evidences()[evidence].values.size(); ++v) {
    std::vector<double> after(belief.size());
    double shown = 0, sum = 0;
    for (std::size_t c = 0; c < belief.size(); ++c) {
      const double p = table.rows[c][evidence].probability[v];
      shown += belief[c] * p;
      sum += after[c] = belief[c] * std::pow(p, table.weight[evidence]);
    }
    for (double& p : after) p /= sum;
    expected += shown * entropy_bits(after);
  }
  return expected;
}

}  // namespace

double entropy_bits(std::span<const double> belief) {
  double sum = 0;
  for (const double p : belief)
    if (p > 0) sum -= p * std::log2(p);
  return sum;
}

std::optional<NextCheck> next_check(const Table& table, std::span<const Observation> observations,
                                    const Situation& situation, std::span<const std::size_t> declined) {
  const std::vector<double> belief = beliefs(table, observations, situation);
  const double now = entropy_bits(belief);
  std::optional<NextCheck> best;
  for (std::size_t e = 0; e < evidences().size(); ++e) {
    if (!can_be_asked_for(observations, situation, e)) continue;
    if (std::find(declined.begin(), declined.end(), e) != declined.end()) continue;
    const double gain = now - expected_entropy_bits(table, belief, e);
    if (gain >= gain_least_bits && (!best || gain > best->expected_gain_bits)) best = NextCheck{e, gain};
  }
  return best;
}

}  // namespace eyelevel::diagnosis
