// SPDX-License-Identifier: Apache-2.0
// What the table of likelihoods speaks of, and how a technician hears of it: causes, evidences with their values, and
// the next checks, which are evidences that somebody has to go and get.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace eyelevel::diagnosis {

struct Cause {
  std::string_view id;    // "worn_laser_loop"
  std::string_view name;  // "laser worn"; two causes of one name are told as one
};

struct Value {
  std::string_view id;     // "low"
  std::string_view words;  // "the level lies below the reference"
};

// What is known of the player and the bench beside what was measured; from the model sheet, as far as there is one.
struct Situation {
  std::optional<bool> has_power_loop = {};  // of the laser; empty: not known, so that both kinds of wear stay possible
  bool knows_series_resistor = false;       // where the laser current can be measured without cutting a wire
  bool has_trimmer = false;                 // and it is known where
  bool has_service_data = false;            // for adjustments other than the level
  std::optional<bool> has_isolated_mains = {};  // the player's circuit is isolated from mains; empty: not known
};

// How a technician gets an evidence that is not on the table yet.
struct Check {
  std::string_view how;                             // safe as it stands; the maker's data come first all the same
  bool (*is_safe)(const Situation&) = nullptr;      // possible and harmless in this situation
  std::optional<std::string_view> only_after = {};  // an evidence that must have been looked at before
};

struct Evidence {
  std::string_view id;     // "level"
  std::string_view about;  // "the level"
  std::vector<Value> values;
  std::optional<Check> check = {};  // empty: measured, or noticed, before anything is asked for
};

inline constexpr std::string_view none = "none";  // the value of what was tried and could not be had

std::span<const Cause> causes();
std::span<const Evidence> evidences();

// Place in the lists above; empty when nothing is called so.
std::optional<std::size_t> find_cause(std::string_view id);
std::optional<std::size_t> find_evidence(std::string_view id);
std::optional<std::size_t> find_value(const Evidence& evidence, std::string_view id);

}  // namespace eyelevel::diagnosis
