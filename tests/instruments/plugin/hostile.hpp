// SPDX-License-Identifier: Apache-2.0
// A folder with a plugin in it that misbehaves as its test says (hostile_plugin.py).
#pragma once

#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <string>

#include "instruments/plugin/manifest.hpp"
#include "tests/support/temporary_folder.hpp"

namespace eyelevel::test {

inline void write_text(const std::filesystem::path& path, const std::string& text) {
  std::ofstream(path, std::ios::binary) << text;
}

struct HostilePlugin {
  TemporaryFolder parent;
  std::filesystem::path folder = parent.path() / "hostile";

  explicit HostilePlugin(const std::string& mood, const std::string& limits = "answers within: 5 s\n") {
    std::filesystem::create_directory(folder);
    std::filesystem::permissions(folder, std::filesystem::perms(0755));
    write_text(folder / "plugin.yaml",
               "plugin: hostile\nabout: misbehaves\nform: process\nprogram: hostile_plugin.py\n" + limits);
    write_text(folder / "mood", mood);
    std::filesystem::copy_file("tests/instruments/plugin/hostile_plugin.py", folder / "hostile_plugin.py");
    std::filesystem::permissions(folder / "plugin.yaml", std::filesystem::perms(0644));
    std::filesystem::permissions(folder / "hostile_plugin.py", std::filesystem::perms(0755));
  }
  plugin::Manifest manifest() const { return plugin::read_manifest(folder).manifest; }
};

}  // namespace eyelevel::test
