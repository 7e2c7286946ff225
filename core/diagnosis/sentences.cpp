// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/sentences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace eyelevel::diagnosis {

namespace {

constexpr std::size_t findings_most = 3;
constexpr double worth_telling = 0.05;
constexpr std::size_t arguments_most = 4;
// Natural logarithms of odds: 3 to 2 is worth a word, 3 to 1 speaks, 10 to 1 speaks strongly (Jeffreys' scale).
constexpr double slightly = 0.405, clearly = 1.099, strongly = 2.303;

std::string_view strength(double weight) {
  const double size = std::abs(weight);
  return size >= strongly ? "strongly " : size >= clearly ? "" : "slightly ";
}

// The value that agrees best, with what was found; near a border both.
std::string seen(const Observation& observation) {
  constexpr double also = 0.2;
  const Evidence& evidence = evidences()[observation.evidence];
  std::vector<std::pair<double, std::size_t>> order;
  for (std::size_t v = 0; v < observation.agrees.size(); ++v) order.emplace_back(-observation.agrees[v], v);
  std::sort(order.begin(), order.end());
  std::string text(evidence.values[order[0].second].words);
  if (order.size() > 1 && -order[1].first >= also)
    text += fmt::format(", or {}", evidence.values[order[1].second].words);
  if (!observation.found.empty()) text += fmt::format(" ({})", observation.found);
  return text;
}

std::string because(const Suspect& suspect, std::span<const Observation> observations) {
  std::string speaks_for, speaks_against;
  std::size_t told = 0;
  for (const Argument& argument : suspect.arguments) {
    if (told == arguments_most || std::abs(argument.weight) < slightly) break;
    std::string& side = argument.weight > 0 ? speaks_for : speaks_against;
    side += fmt::format("{}{} (speaks {}{})", side.empty() ? "" : "; ", seen(observations[argument.observation]),
                        strength(argument.weight), argument.weight > 0 ? "for it" : "against it");
    ++told;
  }
  std::string text = speaks_for;
  if (!speaks_against.empty()) text += fmt::format("{}{}", text.empty() ? "" : "; but ", speaks_against);
  if (text.empty()) text = "nothing that was looked at speaks clearly for it or against it";
  return fmt::format("{}; believed to {:.0f} %", text, suspect.belief * 100);
}

}  // namespace

std::vector<Finding> findings(const Diagnosis& diagnosis, std::span<const Observation> observations) {
  std::vector<Finding> all;
  if (!diagnosis.is_known)
    all.push_back({"don't know",
                   fmt::format("no cause is believed to {:.0f} %; the likeliest, {}, to {:.0f} %", belief_least * 100,
                               diagnosis.suspects.front().name, diagnosis.suspects.front().belief * 100),
                   {}});
  for (std::size_t i = 0; i < std::min(findings_most, diagnosis.suspects.size()); ++i) {
    const Suspect& suspect = diagnosis.suspects[i];
    if (i == 0 || suspect.belief >= worth_telling)
      all.push_back({suspect.name, because(suspect, observations), suspect.belief});
  }
  return all;
}

}  // namespace eyelevel::diagnosis
