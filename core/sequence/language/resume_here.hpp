// SPDX-License-Identifier: Apache-2.0
// What a run that is resumed at a step can know there: its readings and answers, and what the opening sets up; all else
// is as if never done.
#pragma once

#include <map>
#include <set>
#include <string>

#include "core/sequence/language/verb.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::sequence {

// Takes out of the scope what is gone, so that later steps that need it have their mistake; reports what is on.
void resume_here(yaml::Mark here, const std::set<std::string>& on_now,
                 const std::map<std::string, double, std::less<>>& set_up_by_opening, Scope& scope,
                 yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
