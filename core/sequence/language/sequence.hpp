// SPDX-License-Identifier: Apache-2.0
// A checked sequence: what is to be done, as plain data without YAML. Made by check.hpp, walked by runner/run.hpp.
// Values are in SI units. Immutable after checking; may be run any number of times.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/event/event.hpp"
#include "core/metrology/reading.hpp"
#include "core/quantity/dimension.hpp"
#include "core/quantity/text.hpp"

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

// A value that is given before a run begins.
struct Asked {
  std::string name;
  std::string about;
  std::string usual;         // empty: somebody must say
  std::string allowed_text;  // empty: anything of the dimension
  std::optional<quantity::Span> allowed;
  quantity::Dimension dimension;
  std::string text;  // the value, as it was written
  double si = 0;
  bool is_set = false;  // by somebody, not by what is usual
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

// What the names in a part of a sequence are called in the whole run.
using Names = std::map<std::string, std::string, std::less<>>;

// How a step goes through the steps inside it.
enum class Flow {
  none,      // it has none
  decide,    // once where its action's Decision holds, otherwise `otherwise`
  repeat,    // round after round, within Rounds, until its action's Decision holds (or to the end, without action)
  in_order,  // once
  together,  // all at the same time
};

// At most so many rounds; a pause between two, or a round every so often.
struct Rounds {
  std::int64_t times = 1;
  base::Duration pause{};
  std::optional<base::Duration> every;
};

// Tries after the first one, and the time before each.
struct TryAgain {
  std::int64_t times = 0;
  base::Duration after{};
};

struct Step {
  event::Place place;
  std::optional<base::Duration> within;
  // What the file says under its own keys, in the order of the file, and what of it later steps call it.
  std::vector<std::pair<std::string, std::string>> said;
  std::string called;
  std::string name_it;                 // unique in the run; empty: the result has no name
  std::shared_ptr<const Names> names;  // of the part it stands in; empty: the sequence's own
  std::string only_with;               // a role without which it is left out; empty: never
  std::optional<NamedLimit> must_meet;
  TryAgain again;
  Flow flow = Flow::none;
  Rounds rounds;
  std::vector<Step> inside;
  bool has_otherwise = false;
  bool resume_here = false;      // a run that was broken off may be resumed with it
  bool always_finishes = false;  // no step behind it is ever done
  std::vector<Step> otherwise;
  std::set<std::string> roles;           // instruments that it uses, with those of the steps inside
  std::shared_ptr<const Action> action;  // may be empty where `inside` is not
};

struct Sequence {
  std::string name;
  std::string about;
  std::string file;
  std::string source;
  std::vector<event::PartSource> parts;
  std::string proves;  // "bench": the run is a proof of it; otherwise empty
  std::vector<std::string> cautions;
  std::vector<Asked> asked;
  std::vector<RoleNeed> roles;  // in the order of the file
  std::vector<SignalPlace> signals;
  std::vector<NamedLimit> limits;
  std::vector<Step> opening, steps, closing;

  const RoleNeed* role(const std::string& name) const;
  const SignalPlace* signal(const std::string& name) const;
};

}  // namespace eyelevel::sequence
