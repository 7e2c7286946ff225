// SPDX-License-Identifier: Apache-2.0
// Finds the plugins of some folders, looks whether they may be trusted, starts or loads them, and keeps what they
// declare, and of those that are refused the reason. Nothing outside the given folders is ever loaded.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "core/yaml/mistake.hpp"
#include "instruments/plugin/plugin.hpp"

namespace eyelevel::plugin {

struct Refusal {
  std::filesystem::path folder;
  std::string why;  // for people, one or more lines
};

struct Loaded {
  std::vector<std::shared_ptr<const Plugin>> plugins;  // folder by folder, by name
  std::vector<Refusal> refused;
};

// Each folder holds plugins, one folder each with a plugin.yaml; other files in it are left alone. A folder that does
// not exist holds none, unless `must_exist`.
Loaded load_all(const std::vector<std::filesystem::path>& folders, bool must_exist);

// One plugin by its own folder. Throws Error(bad_input) with every reason at once, or what its start throws.
std::shared_ptr<const Plugin> load_one(const std::filesystem::path& folder);

}  // namespace eyelevel::plugin
