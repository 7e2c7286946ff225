// SPDX-License-Identifier: Apache-2.0
#include "tests/rehearsal/diagnosis/score.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/diagnosis/next_check.hpp"
#include "tests/rehearsal/diagnosis/sick_unit.hpp"

namespace eyelevel::test {

namespace {

bool names(const diagnosis::Suspect& suspect, std::string_view cause) {
  return std::any_of(suspect.causes.begin(), suspect.causes.end(),
                     [&](std::size_t c) { return diagnosis::causes()[c].id == cause; });
}

}  // namespace

Score score(diagnosis::Table table, Mix mix, int units, std::uint64_t seed) {
  Score all;
  const auto drawn = causes_with_physics();
  double sum = 0;
  for (std::size_t c = 0; c < table.prior.size(); ++c) {
    const bool is_drawn = std::find(drawn.begin(), drawn.end(), diagnosis::causes()[c].id) != drawn.end();
    if (mix == Mix::even) table.prior[c] = 1;
    if (!is_drawn) table.prior[c] = 1e-9;
    sum += table.prior[c];
  }
  for (const std::string_view cause : drawn) {
    const int units_per_cause = static_cast<int>(std::lround(units * table.prior[*diagnosis::find_cause(cause)] / sum));
    int first_at_once = 0, first_at_last = 0;
    for (int i = 0; i < units_per_cause; ++i) {
      const base::Random random = base::Random(seed, "score").stream(fmt::format("{} {}", cause, i));
      const SickUnit unit = draw_sick_unit(cause, random.stream("unit"));
      auto seen = first_look(unit, random.stream("first look"));
      const diagnosis::Situation situation = situation_of(unit);
      ++all.units;
      for (int asked = 0; asked <= checks_most; ++asked) {
        const auto at = static_cast<std::size_t>(asked);
        const diagnosis::Diagnosis found = diagnosis::diagnose(table, seen, situation);
        const auto& suspects = found.suspects;
        const bool first = names(suspects[0], cause);
        all.first[at] += first;
        all.among_two[at] += first || (suspects.size() > 1 && names(suspects[1], cause));
        all.sure_and_wrong[at] += !first && suspects[0].belief > 0.8;
        all.dont_know[at] += !found.is_known;
        if (asked == 0) first_at_once += first;
        if (asked == checks_most) first_at_last += first;
        if (const auto next = diagnosis::next_check(table, seen, situation); next && asked < checks_most) {
          const std::string_view id = diagnosis::evidences()[next->evidence].id;
          seen.push_back(checked(unit, id, random.stream(id)));
        }
      }
    }
    all.table_by_cause +=
        fmt::format("{:<20} {:.2f} {:.2f}\n", cause, double(first_at_once) / std::max(1, units_per_cause),
                    double(first_at_last) / std::max(1, units_per_cause));
  }
  return all;
}

}  // namespace eyelevel::test
