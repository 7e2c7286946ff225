// SPDX-License-Identifier: Apache-2.0
// Plugins as the commands use them: where they lie, and the language with what they add.
#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "core/sequence/language/verb.hpp"
#include "instruments/phrasebook/open.hpp"
#include "instruments/plugin/load.hpp"

namespace eyelevel::program {

// What a command knows and can do beyond what is shipped.
struct Equipment {
  sequence::Language language;
  plugin::Loaded plugins;  // refused: also those of which a part was refused
};

// `--plugins DIR`, which may be given again.
void add_plugins_option(CLI::App& command, std::vector<std::string>& folders);

// The given folders, or, when none is given, the usual one: $XDG_DATA_HOME/eyelevel/plugins, else
// ~/.local/share/eyelevel/plugins.
std::vector<std::filesystem::path> plugin_folders(const std::vector<std::string>& given);

// All that is shipped and all that the plugins add. A plugin with a part that is refused adds nothing.
Equipment equip(const std::vector<std::string>& given);
// Adds the links of all plugins.
void add_links(transport::Transports& transports, const plugin::Loaded& plugins);
// Instruments whose `phrasebook` names a plugin's driver are opened by that, all others by `usual`. References must
// outlive the function.
phrasebook::Open opener(const plugin::Loaded& plugins, phrasebook::Open usual, base::Timeline& timeline);
// The bench without the instruments that drivers of plugins speak to: only they know what those resources mean.
bench::BenchFile without_driven(const bench::BenchFile& bench, const plugin::Loaded& plugins);
// The same as equip(), and says on standard error what was refused: for commands that go on without it.
Equipment equip_and_tell(const std::vector<std::string>& given);

}  // namespace eyelevel::program
