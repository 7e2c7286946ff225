// SPDX-License-Identifier: Apache-2.0
#include "core/program/plugins.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <map>
#include <utility>

#include "core/base/error.hpp"
#include "core/program/output.hpp"
#include "core/sequence/outside/add.hpp"
#include "core/sequence/verb/ready.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/plugin/driver.hpp"

namespace eyelevel::program {

namespace {

bool is_of_language(const registers::OutsidePart& part) {
  return part.kind == registers::PartKind::verb || part.kind == registers::PartKind::measure;
}

std::shared_ptr<const registers::OutsidePart> driver_of(const plugin::Loaded& plugins, std::string_view name) {
  for (const auto& plugin : plugins.plugins)
    for (const auto& part : plugin->parts)
      if (part.kind == registers::PartKind::driver && part.declaration.name == name) return {plugin, &part};
  return nullptr;
}

// Drivers share their names with phrasebooks, because the bench file names either.
void require_free_name(const plugin::Loaded& plugins, const registers::OutsidePart& part) {
  const auto refuse = [&](const std::string& who) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{} '{}' is refused: the name is taken by {}", registers::name_of(part.kind),
                                  part.declaration.name, who),
                      "give it another name");
  };
  for (const auto& plugin : plugins.plugins)
    for (const auto& other : plugin->parts)
      if (other.kind == part.kind && other.declaration.name == part.declaration.name) refuse(other.declaration.from);
  if (part.kind == registers::PartKind::driver && phrasebook::standard_phrasebooks().find(part.declaration.name))
    refuse("a phrasebook that is built in");
}

// All parts of a plugin or none: half a plugin would be a riddle.
void add(Equipment& equipment, std::shared_ptr<const plugin::Plugin> plugin) {
  sequence::Language with = equipment.language;
  try {
    for (const auto& part : plugin->parts) {
      if (is_of_language(part))
        sequence::add_outside(with, part);
      else
        require_free_name(equipment.plugins, part);
    }
  } catch (const base::Error& error) {
    equipment.plugins.refused.push_back({plugin->manifest.folder, error.what()});
    return;
  }
  equipment.language = std::move(with);
  equipment.plugins.plugins.push_back(std::move(plugin));
}

task<std::unique_ptr<bench::Instrument>> driven(std::shared_ptr<const registers::OutsidePart> driver,
                                                bench::InstrumentEntry entry, base::Timeline& timeline) {
  co_return plugin::open_driver(std::move(driver), entry, timeline);
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

void add_links(transport::Transports& transports, const plugin::Loaded& plugins) {
  std::map<std::string, transport::OpenOnTimeline> by_name;
  for (const auto& plugin : plugins.plugins)
    for (const auto& link : plugin->links) by_name.emplace(link.name, link.open);
  transport::add_outside(transports, std::move(by_name));
}

phrasebook::Open opener(const plugin::Loaded& plugins, phrasebook::Open usual, base::Timeline& timeline) {
  return [&plugins, usual = std::move(usual), &timeline](const bench::InstrumentEntry& entry) {
    if (auto driver = driver_of(plugins, entry.phrasebook)) return driven(std::move(driver), entry, timeline);
    return usual(entry);
  };
}

bench::BenchFile without_driven(const bench::BenchFile& bench, const plugin::Loaded& plugins) {
  bench::BenchFile rest = bench;
  std::erase_if(rest.instruments, [&](const auto& entry) { return driver_of(plugins, entry.phrasebook) != nullptr; });
  return rest;
}

Equipment equip_and_tell(const std::vector<std::string>& given) {
  Equipment equipment = equip(given);
  for (const auto& refusal : equipment.plugins.refused)
    put(stderr, fmt::format("eyelevel: the plugin {} is refused: {}\n", refusal.folder.string(), refusal.why));
  return equipment;
}

}  // namespace eyelevel::program
