// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/resume_here.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

void resume_here(yaml::Mark here, const std::set<std::string>& on_now,
                 const std::map<std::string, double, std::less<>>& set_up_by_opening, Scope& scope,
                 yaml::Mistakes& mistakes) {
  for (auto& [name, given] : scope.given)
    if (given.kind == NameKind::captures || given.kind == NameKind::waveform) given.gone_at_line = here.line;
  scope.set_up_probe = set_up_by_opening;
  for (const std::string& what : on_now)
    mistakes.add(here, fmt::format("'{}' is on here, and would be off when the run is resumed", what),
                 "switch it on in the opening, or off before this step");
}

}  // namespace eyelevel::sequence
