// SPDX-License-Identifier: Apache-2.0
// A plugin that is loaded, of either form. Its parts carry calls that ask it; they keep it alive.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "instruments/plugin/manifest.hpp"

#include "core/register/outside.hpp"

namespace eyelevel::plugin {

// "plugin lanternfield-extras": what errors and budgets name.
inline std::string from_of(const Manifest& manifest) { return "plugin " + manifest.name; }

struct Plugin {
  Manifest manifest;
  std::vector<registers::OutsidePart> parts;
};

}  // namespace eyelevel::plugin
