// SPDX-License-Identifier: Apache-2.0
// What a rehearsal came to: how its units ended, and what became of each trouble.
#pragma once

#include <array>
#include <map>
#include <string>
#include <vector>

#include "sim/rehearsal/rehearse.hpp"

namespace eyelevel::sim {

struct TroubleCount {
  std::string name;
  int units = 0;
  std::map<Caught, int> caught;
};

class Tally {
 public:
  void add(const UnitOutcome& unit);

  int units() const { return units_; }
  int wrong() const { return wrong_; }                // did not end as they must
  int wrong_passes() const { return wrong_passes_; }  // units with or without trouble
  // "pass", "fail", "undecided", "not judged", "stopped": how many units ended so, those that none did too.
  const std::map<std::string, int>& endings() const { return endings_; }
  // Those that some unit had, by name.
  const std::map<std::string, TroubleCount>& troubles() const { return troubles_; }

 private:
  int units_ = 0, wrong_ = 0, wrong_passes_ = 0;
  std::map<std::string, int> endings_{{"pass", 0}, {"fail", 0}, {"undecided", 0}, {"not judged", 0}, {"stopped", 0}};
  std::map<std::string, TroubleCount> troubles_;
};

inline constexpr std::array all_caught{Caught::named, Caught::misnamed, Caught::harmless, Caught::left_to_proof,
                                       Caught::wrong_pass};

}  // namespace eyelevel::sim
