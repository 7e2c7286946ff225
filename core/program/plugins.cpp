// SPDX-License-Identifier: Apache-2.0
#include "core/program/plugins.hpp"

#include <fmt/format.h>

#include <cstdlib>

#include "core/base/error.hpp"
#include "core/program/output.hpp"
#include "core/sequence/outside/add.hpp"
#include "core/sequence/verb/ready.hpp"

namespace eyelevel::program {

namespace {

bool is_of_language(const registers::OutsidePart& part) {
  return part.kind == registers::PartKind::verb || part.kind == registers::PartKind::measure;
}

// All parts of a plugin or none: half a plugin would be a riddle.
void add(Equipment& equipment, std::shared_ptr<const plugin::Plugin> plugin) {
  sequence::Language with = equipment.language;
  try {
    for (const auto& part : plugin->parts)
      if (is_of_language(part)) sequence::add_outside(with, part);
  } catch (const base::Error& error) {
    equipment.plugins.refused.push_back({plugin->manifest.folder, error.what()});
    return;
  }
  equipment.language = std::move(with);
  equipment.plugins.plugins.push_back(std::move(plugin));
}

}  // namespace

void add_plugins_option(CLI::App& command, std::vector<std::string>& folders) {
  command
      .add_option("--plugins", folders,
                  "folder that holds plugins; may be given again; usual: $XDG_DATA_HOME/eyelevel/plugins")
      ->allow_extra_args(false);
}

std::vector<std::filesystem::path> plugin_folders(const std::vector<std::string>& given) {
  if (!given.empty()) return {given.begin(), given.end()};
  const auto from = [](const char* name) -> std::filesystem::path {
    const char* value = std::getenv(name);
    return value == nullptr ? "" : value;
  };
  auto data = from("XDG_DATA_HOME");
  if (data.empty() || data.is_relative()) {
    const auto home = from("HOME");
    if (home.empty()) return {};
    data = home / ".local" / "share";
  }
  return {data / "eyelevel" / "plugins"};
}

Equipment equip(const std::vector<std::string>& given) {
  Equipment equipment{.language = sequence::ready_language(), .plugins = {}};
  plugin::Loaded loaded = plugin::load_all(plugin_folders(given), !given.empty());
  equipment.plugins.refused = std::move(loaded.refused);
  for (auto& plugin : loaded.plugins) add(equipment, std::move(plugin));
  return equipment;
}

Equipment equip_and_tell(const std::vector<std::string>& given) {
  Equipment equipment = equip(given);
  for (const auto& refusal : equipment.plugins.refused)
    put(stderr, fmt::format("eyelevel: the plugin {} is refused: {}\n", refusal.folder.string(), refusal.why));
  return equipment;
}

}  // namespace eyelevel::program
