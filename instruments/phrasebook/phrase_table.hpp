// SPDX-License-Identifier: Apache-2.0
// The keys of a phrasebook kind by kind, as tables of rows: one row serves the check, the help and the reading. The
// table itself is phrasebook_table() of phrasebook.hpp.
#pragma once

#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"
#include "instruments/phrasebook/phrasebook.hpp"

namespace eyelevel::phrasebook::detail {

// Fills `book.common` and `book.phrases` for `book.kind` from a root that was held against its table.
void take_phrases(const yaml::Node& root, Phrasebook& book, yaml::Mistakes& mistakes);

}  // namespace eyelevel::phrasebook::detail
