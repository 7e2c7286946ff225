// SPDX-License-Identifier: Apache-2.0
// The phrasebooks in standard/, built into the program, in a register by name; a phrasebook of one's own is a file.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/register/register.hpp"
#include "instruments/phrasebook/phrasebook.hpp"

namespace eyelevel::phrasebook {

using Phrasebooks = registers::Register<Phrasebook>;

// All of standard/. Throws Error(defect) when one of them has a mistake.
Phrasebooks standard_phrasebooks();

// The one of this name, or the file when it ends in .yaml. Throws Error(not_found) with the nearest name,
// Error(bad_input) with the file's first mistake.
Phrasebook find_phrasebook(const Phrasebooks& phrasebooks, std::string_view name);

namespace detail {
struct StandardText {
  std::string_view file;
  std::string_view text;
};
// Written by CMake from standard/*.yaml.
const std::vector<StandardText>& standard_texts();
}  // namespace detail

}  // namespace eyelevel::phrasebook
