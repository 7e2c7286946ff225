// SPDX-License-Identifier: Apache-2.0
// The values of a step's keys as plain data, for parts that come from outside.
#pragma once

#include "core/register/outside.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

// Of the keys of `own` that the step has and that held against it: quantities in SI units, counts, yes or no, texts.
registers::OutsideValues values_of(const yaml::Node& step, const yaml::KeyTable& own);

// Whether a key's type can be handed outside at all.
bool can_be_handed_out(yaml::Type type);

}  // namespace eyelevel::sequence
