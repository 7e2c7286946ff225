// SPDX-License-Identifier: Apache-2.0
#pragma once

#include "core/sequence/language/verb.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

// The verb that a step begins with; null, and reported, when it begins with none.
const Verbs::Entry* verb_of(const yaml::Node& step, const Verbs& verbs, yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
