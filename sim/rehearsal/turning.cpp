// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/turning.hpp"

#include <algorithm>

#include "core/bench/deed.hpp"

namespace eyelevel::sim {
namespace {

constexpr double look_every_s = 3;
constexpr double look_s = 0.3;  // a turn of the disc

std::optional<double> highest_between(const Player& player, double from_s, double until_s) {
  std::optional<double> highest;
  for (double at_s = from_s; at_s + look_s < until_s; at_s += look_every_s)
    if (const auto level = player.true_level_v(at_s, at_s + look_s)) highest = std::max(highest.value_or(0), *level);
  return highest;
}

double asked_deg(const std::string& words) {
  for (const Deed& deed : bench::deeds_asked_for(words))
    if (deed.kind == DeedKind::turn_trimmer) return deed.clockwise_deg;
  return 0;
}

}  // namespace

std::vector<TurnDone> turns_done(const Player& player, const std::vector<SimulatedOperator::Done>& deeds,
                                 double until_s) {
  std::vector<SimulatedOperator::Done> turned;
  std::copy_if(deeds.begin(), deeds.end(), std::back_inserter(turned),
               [](const auto& deed) { return deed.kind == DeedKind::turn_trimmer; });
  std::vector<TurnDone> all;
  for (std::size_t i = 0; i < turned.size(); ++i)
    all.push_back({asked_deg(turned[i].what), turned[i].clockwise_deg,
                   highest_between(player, turned[i].time_s, i + 1 < turned.size() ? turned[i + 1].time_s : until_s)});
  return all;
}

std::optional<double> highest_v(const std::vector<TurnDone>& turns, bool as_asked_only) {
  std::optional<double> highest;
  for (const TurnDone& turn : turns)
    if (turn.highest_v && (!as_asked_only || turn.is_as_asked()))
      highest = std::max(highest.value_or(0), *turn.highest_v);
  return highest;
}

}  // namespace eyelevel::sim
