// SPDX-License-Identifier: Apache-2.0
// A checked sequence: what is to be done, as plain data without YAML. Made by check.hpp, walked by runner/run.hpp.
// Values are in SI units. Immutable after checking; may be run any number of times.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/event/event.hpp"
#include "core/metrology/reading.hpp"
#include "core/quantity/dimension.hpp"

namespace eyelevel::sequence {

class Action;

// An instrument the sequence asks for ("needs") or would like ("helps if there").
struct RoleNeed {
  std::string role;
  std::string kind;
  bool required = true;
  std::optional<double> rate_hz;  // at least
  std::optional<double> points;   // at least
  int line = 0;
  int column = 0;
};

// Where something is measured or given: a channel of an oscilloscope, a multimeter, an input of a counter, an output.
struct SignalPlace {
  std::string name;
  std::string role;
  std::string kind;  // of the role
  int channel = 0;   // channel, input or output, from 1; 0 for instruments without
  int line = 0;
  int column = 0;
};

struct NamedLimit {
  std::string name;
  std::string text;  // as the user wrote it
  metrology::Limit limit;
  quantity::Dimension dimension;
  int line = 0;
  int column = 0;
};

struct Step {
  event::Place place;
  std::optional<base::Duration> within;
  std::string name_it;    // empty: the result has no name
  std::string only_with;  // a role without which it is left out; empty: never
  std::optional<NamedLimit> must_meet;
  bool has_otherwise = false;
  std::vector<Step> otherwise;
  std::shared_ptr<const Action> action;
};

struct Sequence {
  std::string name;
  std::string about;
  std::string file;
  std::string source;
  std::string proves;  // "bench": the run is a proof of it; otherwise empty
  std::vector<std::string> cautions;
  std::vector<RoleNeed> roles;  // in the order of the file
  std::vector<SignalPlace> signals;
  std::vector<NamedLimit> limits;
  std::vector<Step> opening, steps, closing;

  const RoleNeed* role(const std::string& name) const;
  const SignalPlace* signal(const std::string& name) const;
};

}  // namespace eyelevel::sequence
