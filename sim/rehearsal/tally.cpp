// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/tally.hpp"

namespace eyelevel::sim {
namespace {

std::string ending_of(const sequence::RunResult& result) {
  if (result.ended != "finished") return "stopped";
  if (!result.judgement) return "not judged";
  using metrology::Judgement;
  return *result.judgement == Judgement::pass ? "pass" : *result.judgement == Judgement::fail ? "fail" : "undecided";
}

}  // namespace

void Tally::add(const UnitOutcome& unit) {
  ++units_;
  ++endings_[ending_of(unit.result)];
  wrong_ += unit.wrong.empty() ? 0 : 1;
  wrong_passes_ += unit.caught == Caught::wrong_pass ? 1 : 0;
  for (const std::string& name : unit.troubles) {
    TroubleCount& count = troubles_[name];
    count.name = name;
    ++count.units;
    if (unit.caught) ++count.caught[*unit.caught];
  }
}

}  // namespace eyelevel::sim
