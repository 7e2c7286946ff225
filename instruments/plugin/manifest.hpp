// SPDX-License-Identifier: Apache-2.0
// plugin.yaml, which every plugin has in its folder: what it is called, what is to be started, and what it may use.
#pragma once

#include <filesystem>
#include <string>

#include "core/base/timeline.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"

namespace eyelevel::plugin {

inline constexpr const char* manifest_name = "plugin.yaml";

enum class Form { process, library };
std::string_view name_of(Form form);

struct Manifest {
  std::string name;  // "lanternfield-extras"
  std::string about;
  Form form = Form::process;
  std::filesystem::path folder;
  std::filesystem::path program;  // the executable or the shared library, in the folder
  base::Duration starts_within = std::chrono::seconds(30);
  base::Duration answers_within = std::chrono::seconds(10);
  std::size_t memory_bytes = std::size_t{512} << 20U;  // address space of a process
};

struct ManifestRead {
  Manifest manifest;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

// Of a folder; the file is read, nothing is started.
ManifestRead read_manifest(const std::filesystem::path& folder);
ManifestRead read_manifest(const std::filesystem::path& folder, yaml::Document document);

bool is_manifest(const yaml::Node& root);
yaml::KeyTable manifest_table();

}  // namespace eyelevel::plugin
