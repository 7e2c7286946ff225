// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/truth.hpp"

#include "sim/player/pad_signal.hpp"

namespace eyelevel::sim {
namespace {

constexpr Load unloaded{1e12, 1e-15};

using Truths = std::map<std::string, double>;

std::optional<std::vector<double>> inputs_of(const metrology::Reading& reading, const Truths& known) {
  std::vector<double> values;
  for (const auto& name : reading.inputs) {
    const auto it = known.find(name);
    if (it == known.end()) return std::nullopt;
    values.push_back(it->second);
  }
  if (values.empty()) return std::nullopt;
  return values;
}

std::optional<double> combined(const metrology::Reading& reading, const Truths& known) {
  const auto values = inputs_of(reading, known);
  if (!values) return std::nullopt;
  if (reading.measure == "difference of" && values->size() == 2) return (*values)[0] - (*values)[1];
  if (reading.measure == "ratio of" && values->size() == 2 && (*values)[1] != 0) return (*values)[0] / (*values)[1];
  if (reading.measure == "mean of") {
    double sum = 0;
    for (const double v : *values) sum += v;
    return sum / static_cast<double>(values->size());
  }
  return std::nullopt;
}

std::optional<double> truth_of(const Player& player, const metrology::Reading& reading, const Truths& known) {
  if (reading.measure == "eye level") return player.true_level_v(reading.from_s, reading.until_s);
  if (reading.measure == "d.c. level") {
    if (const auto mean = player.true_mean_v(reading.from_s, reading.until_s)) return mean;
    // No disc is read: dark, searching or off, whatever the unloaded pad then does.
    return PadSignal(player).mean_v(reading.from_s, reading.until_s, unloaded);
  }
  return combined(reading, known);
}

}  // namespace

std::map<std::string, double> truths_of(const Player& player, const std::vector<metrology::Reading>& readings) {
  Truths truths;
  for (const auto& reading : readings)
    if (const auto value = truth_of(player, reading, truths)) truths[reading.name] = *value;
  return truths;
}

}  // namespace eyelevel::sim
