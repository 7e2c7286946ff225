// SPDX-License-Identifier: Apache-2.0
// A plugin that is loaded, of either form. Its parts carry calls that ask it; they keep it alive.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "core/register/outside.hpp"
#include "instruments/plugin/manifest.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::plugin {

// "plugin lanternfield-extras": what errors and budgets name.
inline std::string from_of(const Manifest& manifest) { return "plugin " + manifest.name; }

struct Plugin {
  Manifest manifest;
  std::vector<registers::OutsidePart> parts;
  // Of its transports, by the name that resource names have: PLUGIN::name::address.
  struct Link {
    std::string name;
    transport::OpenOnTimeline open;
  };
  std::vector<Link> links = {};
};

}  // namespace eyelevel::plugin
