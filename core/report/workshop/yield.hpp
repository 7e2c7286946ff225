// SPDX-License-Identifier: Apache-2.0
// How many runs pass: by model, bench, operator and week, each share with Wilson's 95 % interval, and whose share lies
// apart from that of all others. A run that was not judged counts for no share.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/population/capability.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::report::workshop {

struct Yield {
  std::string of;  // "LF-2"; of a week its Monday, "2030-01-07"; "" where a run does not say
  std::int64_t passed = 0, failed = 0, undecided = 0, not_judged = 0;

  std::int64_t judged() const { return passed + failed + undecided; }
  // Both nothing where no run was judged.
  std::optional<double> share() const;
  std::optional<metrology::population::ShareRange> range() const;
};

struct Yields {
  Yield all;
  std::vector<Yield> model, bench, who, week;  // each in the order of its names
  std::vector<Yield> lot;                      // of units, not runs: lots.hpp
};

Yields yields_of(std::span<const record::Tally> tallies);

// The counts without these runs: those of a check unit say nothing of what comes in. Runs that are not closed, or prove
// a bench, were never counted.
void leave_out(std::vector<record::Tally>& tallies, std::span<const record::RunSummary> runs);

// The Monday of the week of a day: "2030-01-09" gives "2030-01-07". A day that is none stays as it is.
std::string monday_of(const std::string& day);

// Of one list: whose share differs from that of the others together by more than chance, which names somebody of a list
// without such a one in 1 of 100 cases. The farthest first, each against those who are left: one who fails often must
// not make all others pass often.
struct Apart {
  const Yield* one = nullptr;
  double others = 0;  // share of all others
};
inline constexpr std::size_t apart_most = 3;  // more names make no sentence clearer
std::vector<Apart> apart(const std::vector<Yield>& list);

}  // namespace eyelevel::report::workshop
