// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/load.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

#include "core/base/error.hpp"
#include "instruments/plugin/library/library.hpp"
#include "instruments/plugin/library/link.hpp"
#include "instruments/plugin/process/speaker.hpp"
#include "instruments/plugin/trust.hpp"

namespace eyelevel::plugin {

namespace fs = std::filesystem;

namespace {

[[noreturn]] void refuse(std::string why) { throw base::Error(base::ErrorCode::bad_input, std::move(why)); }

void require_trust(const fs::path& path, FileKind kind) {
  if (auto why = why_untrusted(path, kind)) refuse(std::move(*why));
}

Manifest trusted_manifest(const fs::path& folder) {
  require_trust(folder, FileKind::folder);
  require_trust(folder / manifest_name, FileKind::file);
  auto read = read_manifest(folder);
  if (!read.mistakes.fine()) {
    std::string all;
    for (const auto& mistake : read.mistakes.list()) all += (all.empty() ? "" : "\n") + yaml::print(mistake);
    refuse(std::move(all));
  }
  require_trust(read.manifest.program, FileKind::file);
  return std::move(read.manifest);
}

std::shared_ptr<const Plugin> load_process(Manifest manifest) {
  auto plugin = std::make_shared<Plugin>();
  plugin->manifest = manifest;
  const auto speaker = std::make_shared<process::Speaker>(std::move(manifest));
  plugin->parts = speaker->hello();
  for (auto& part : plugin->parts)
    part.call = [speaker](registers::Question question, base::Timeline& timeline, base::Duration within) {
      return speaker->ask(std::move(question), timeline, within);
    };
  return plugin;
}

std::shared_ptr<const Plugin> load_library(Manifest manifest) {
  auto plugin = std::make_shared<Plugin>();
  plugin->manifest = manifest;
  const auto library = std::make_shared<library::Library>(std::move(manifest));
  for (const library::PartFound& found : library->parts()) {
    auto part = found.part;
    if (found.transport) {
      plugin->links.push_back(
          {part.declaration.name, [library, found](transport::ResourceName name, base::Timeline& timeline) {
             return library::connect(library, found.transport, std::move(name), timeline);
           }});
    } else {
      part.call = [library, found](registers::Question question, base::Timeline& timeline, base::Duration within) {
        return library->ask(found, std::move(question), timeline, within);
      };
    }
    plugin->parts.push_back(std::move(part));
  }
  return plugin;
}

std::vector<fs::path> folders_in(const fs::path& folder) {
  std::vector<fs::path> all;
  for (const auto& entry : fs::directory_iterator(folder)) {
    std::error_code none;  // a folder that cannot be looked into has no manifest for us
    if (entry.is_directory() && fs::exists(entry.path() / manifest_name, none)) all.push_back(entry.path());
  }
  std::sort(all.begin(), all.end());
  return all;
}

void load_into(Loaded& loaded, const fs::path& folder) {
  try {
    auto plugin = load_one(folder);
    for (const auto& other : loaded.plugins)
      if (other->manifest.name == plugin->manifest.name)
        refuse(fmt::format("a plugin of this name was loaded from {} already", other->manifest.folder.string()));
    loaded.plugins.push_back(std::move(plugin));
  } catch (const base::Error& error) {
    loaded.refused.push_back({folder, error.what()});
  }
}

}  // namespace

std::shared_ptr<const Plugin> load_one(const fs::path& folder) {
  Manifest manifest = trusted_manifest(fs::absolute(folder).lexically_normal());
  return manifest.form == Form::library ? load_library(std::move(manifest)) : load_process(std::move(manifest));
}

Loaded load_all(const std::vector<fs::path>& folders, bool must_exist) {
  Loaded loaded;
  for (const fs::path& folder : folders) {
    std::error_code error;
    if (!fs::is_directory(folder, error)) {
      if (must_exist || fs::exists(folder, error)) loaded.refused.push_back({folder, "there is no such folder"});
      continue;
    }
    if (const auto why = why_untrusted(fs::absolute(folder).lexically_normal(), FileKind::folder)) {
      loaded.refused.push_back({folder, *why});
      continue;
    }
    try {
      for (const fs::path& one : folders_in(folder)) load_into(loaded, one);
    } catch (const fs::filesystem_error& e) {
      loaded.refused.push_back({folder, e.what()});
    }
  }
  return loaded;
}

}  // namespace eyelevel::plugin
