// SPDX-License-Identifier: Apache-2.0
// The verb `for each row`: the steps of `do` once for each row of a table, `<column>` standing for the row's value in
// all their texts.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_each_row(Verbs& verbs);

}  // namespace eyelevel::sequence
