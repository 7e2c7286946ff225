// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/diagnose.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::diagnosis {

namespace {

// More than this many are no answer, and one that is far less likely than the first needs no naming.
constexpr std::size_t together_most = 3;
constexpr double share_least = 0.1;

double likelihood(const Table& table, const Observation& observation, std::size_t cause) {
  const std::vector<double>& p = table.rows[cause][observation.evidence].probability;
  return std::pow(std::inner_product(p.begin(), p.end(), observation.agrees.begin(), 0.0),
                  table.weight[observation.evidence]);
}

void require_once_each(std::span<const Observation> observations) {
  for (std::size_t i = 0; i < observations.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (observations[i].evidence == observations[j].evidence)
        throw base::Error(base::ErrorCode::bad_input,
                          fmt::format("{} is told twice", evidences()[observations[i].evidence].about),
                          "give each evidence once");
}

bool is_possible(std::size_t cause, const Situation& situation) {
  if (!situation.has_power_loop) return true;
  return causes()[cause].id != (*situation.has_power_loop ? "worn_laser_no_loop" : "worn_laser_loop");
}

// No fault is never named in one breath with a fault.
bool is_told_together(const Table& table, std::span<const Observation> observations, std::size_t a, std::size_t b) {
  if (causes()[a].name == causes()[b].name) return true;
  if (causes()[a].id == "healthy" || causes()[b].id == "healthy") return false;
  return overlap(table, observations, a, b) >= overlap_least;
}

std::string name_of(const std::vector<std::size_t>& members) {
  std::vector<std::string_view> names;
  for (const std::size_t c : members)
    if (std::find(names.begin(), names.end(), causes()[c].name) == names.end()) names.push_back(causes()[c].name);
  return fmt::format("{}", fmt::join(names, " or "));
}

std::vector<Argument> arguments_for(const Table& table, std::span<const Observation> observations,
                                    const std::vector<double>& belief, const std::vector<std::size_t>& members) {
  std::vector<Argument> all;
  for (std::size_t i = 0; i < observations.size(); ++i) {
    double with = 0, with_weight = 0, without = 0, without_weight = 0;
    for (std::size_t c = 0; c < belief.size(); ++c) {
      const bool is_member = std::find(members.begin(), members.end(), c) != members.end();
      (is_member ? with : without) += belief[c] * likelihood(table, observations[i], c);
      (is_member ? with_weight : without_weight) += belief[c];
    }
    if (with_weight > 0 && without_weight > 0 && with > 0 && without > 0)
      all.push_back({i, std::log(with / with_weight) - std::log(without / without_weight)});
  }
  std::sort(all.begin(), all.end(), [](const Argument& a, const Argument& b) {
    return std::pair(-std::abs(a.weight), a.observation) < std::pair(-std::abs(b.weight), b.observation);
  });
  return all;
}

}  // namespace

std::vector<double> beliefs(const Table& table, std::span<const Observation> observations, const Situation& situation) {
  require_once_each(observations);
  std::vector<double> log_belief;
  for (std::size_t c = 0; c < table.prior.size(); ++c) {
    double sum = std::log(table.prior[c]);
    for (const Observation& observation : observations) sum += std::log(likelihood(table, observation, c));
    log_belief.push_back(is_possible(c, situation) ? sum : -INFINITY);
  }
  const double most = *std::max_element(log_belief.begin(), log_belief.end());
  double total = 0;
  for (double& b : log_belief) total += b = std::exp(b - most);
  for (double& b : log_belief) b /= total;
  return log_belief;
}

double overlap(const Table& table, std::span<const Observation> observations, std::size_t a, std::size_t b) {
  double product = 1;
  for (const Observation& observation : observations) {
    const std::vector<double>& p = table.rows[a][observation.evidence].probability;
    const std::vector<double>& q = table.rows[b][observation.evidence].probability;
    double sum = 0;
    for (std::size_t v = 0; v < p.size(); ++v) sum += std::sqrt(p[v] * q[v]);
    product *= std::pow(sum, table.weight[observation.evidence]);
  }
  return product;
}

Diagnosis diagnose(const Table& table, std::span<const Observation> observations, const Situation& situation) {
  Diagnosis diagnosis;
  diagnosis.belief = beliefs(table, observations, situation);
  const std::vector<double>& belief = diagnosis.belief;
  std::vector<std::size_t> left(belief.size());
  std::iota(left.begin(), left.end(), std::size_t{0});
  std::sort(left.begin(), left.end(),
            [&](std::size_t a, std::size_t b) { return std::pair(-belief[a], a) < std::pair(-belief[b], b); });
  while (!left.empty()) {
    Suspect suspect;
    const std::size_t first = left.front();
    for (const std::size_t c : left)
      if (c == first || (suspect.causes.size() < together_most && belief[c] > 0 &&
                         belief[c] >= share_least * belief[first] && is_told_together(table, observations, first, c)))
        suspect.causes.push_back(c);
    for (const std::size_t c : suspect.causes) {
      suspect.belief += belief[c];
      std::erase(left, c);
    }
    suspect.name = name_of(suspect.causes);
    suspect.arguments = arguments_for(table, observations, belief, suspect.causes);
    if (suspect.belief > 0) diagnosis.suspects.push_back(std::move(suspect));
  }
  std::sort(diagnosis.suspects.begin(), diagnosis.suspects.end(), [](const Suspect& a, const Suspect& b) {
    return std::pair(-a.belief, a.causes.front()) < std::pair(-b.belief, b.causes.front());
  });
  diagnosis.is_known = diagnosis.suspects.front().belief >= belief_least;
  return diagnosis;
}

}  // namespace eyelevel::diagnosis
