// SPDX-License-Identifier: Apache-2.0
// Parts of sequences in files of their own. A part sees the instruments, signals and limits of the sequence that uses
// it; what it is to work on is filled in by its caller, its results are its own but for those that are brought back.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"

namespace eyelevel::sequence {

// Reads a part's file, as it is named from where the program stands.
using PartFiles = std::function<yaml::Document(const std::string& file)>;

const yaml::KeyTable& part_table();

// `written` in the file `from`, as a path from where the program stands. Reports a path that is not relative, leaves
// the folder of the sequence (`top`), or is no .yaml file.
std::optional<std::string> part_path(const yaml::Node& written, const std::string& from, const std::string& top,
                                     yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
