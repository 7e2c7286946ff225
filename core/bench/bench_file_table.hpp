// SPDX-License-Identifier: Apache-2.0
// The keys of the bench file, kind by kind; the reading is in bench_file.cpp, all of them together are
// bench_file_table() for help and schema.
#pragma once

#include <string_view>

#include "core/yaml/key_table.hpp"

namespace eyelevel::bench::detail {

// The root, its instruments read by their owner.
yaml::KeyTable root_table();
// Of an instrument whose kind is unknown.
yaml::KeyTable only_kind_table();
// Of an instrument of one of kinds().
yaml::KeyTable instrument_table(std::string_view kind);

}  // namespace eyelevel::bench::detail
