// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/manifest.hpp"

#include <fmt/format.h>

#include "core/yaml/fields.hpp"

namespace eyelevel::plugin {

namespace {

constexpr double least_s = 0.1, most_s = 600;
constexpr long long least_megabytes = 16, most_megabytes = 65536;

// Found in the plugin's own folder and nowhere else.
bool is_plain_name(const std::string& name) {
  return !name.empty() && name.front() != '.' && name.find('/') == std::string::npos;
}

void read_time(const yaml::Fields& fields, const std::string& key, base::Duration& into, yaml::Mistakes& mistakes) {
  const auto within_s = fields.quantity(key, quantity::time);
  if (!within_s) return;
  if (*within_s >= least_s && *within_s <= most_s)
    into = base::from_seconds(*within_s);
  else
    mistakes.add(fields.node(key)->mark, fmt::format("'{}': from 100 ms to 10 min can be given", key),
                 fmt::format("write {}: 10 s", key));
}

void read_limits(const yaml::Fields& fields, Manifest& manifest, yaml::Mistakes& mistakes) {
  read_time(fields, "starts within", manifest.starts_within, mistakes);
  read_time(fields, "answers within", manifest.answers_within, mistakes);
  if (const auto megabytes = fields.count("memory megabytes")) {
    if (manifest.form == Form::library)
      mistakes.add(fields.node("memory megabytes")->mark, "a library shares the memory of the program",
                   "leave it out, or make the plugin a process");
    else if (*megabytes >= least_megabytes && *megabytes <= most_megabytes)
      manifest.memory_bytes = static_cast<std::size_t>(*megabytes) << 20U;
    else
      mistakes.add(fields.node("memory megabytes")->mark, "'memory megabytes': from 16 to 65536 can be given",
                   "write memory megabytes: 512");
  }
}

}  // namespace

std::string_view name_of(Form form) { return form == Form::process ? "process" : "library"; }

bool is_manifest(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "plugin"; }

yaml::KeyTable manifest_table() {
  using yaml::Type;
  return {
      "a plugin's manifest",
      "what a plugin is called, what is started for it, and what it may use",
      {{.name = "plugin",
        .required = true,
        .type = Type::word,
        .help = "its name; the folder is called the same",
        .example = "lanternfield-extras"},
       {.name = "about", .required = true, .type = Type::text, .help = "one line", .example = "what the workshop adds"},
       {.name = "form",
        .required = true,
        .type = Type::word,
        .help = "a program of its own that is spoken to over its standard streams, or a shared library",
        .example = "process",
        .choices = {"process", "library"}},
       {.name = "program",
        .required = true,
        .type = Type::text,
        .help = "the file in this folder that is started or loaded",
        .example = "extras.py"},
       {.name = "starts within",
        .type = Type::quantity,
        .dimension = quantity::time,
        .help = "the longest that it may take to start and to declare itself (usual: 30 s)",
        .example = "30 s"},
       {.name = "answers within",
        .type = Type::quantity,
        .dimension = quantity::time,
        .help = "the longest that an answer may take (usual: 10 s)",
        .example = "10 s"},
       {.name = "memory megabytes",
        .type = Type::count,
        .help = "address space of a process (usual: 512)",
        .example = "512"}}};
}

ManifestRead read_manifest(const std::filesystem::path& folder, yaml::Document document) {
  ManifestRead result{{}, std::move(document.mistakes)};
  static const yaml::KeyTable table = manifest_table();
  if (document.root.shape == yaml::Shape::nothing || !yaml::check(document.root, table, result.mistakes)) return result;
  Manifest& manifest = result.manifest;
  const yaml::Fields fields(document.root);
  manifest.name = fields.text("plugin").value_or("");
  manifest.about = fields.text("about").value_or("");
  manifest.form = fields.text("form") == "library" ? Form::library : Form::process;
  manifest.folder = folder;
  const std::string program = fields.text("program").value_or("");
  manifest.program = folder / program;
  if (!is_plain_name(program))
    result.mistakes.add(fields.node("program")->mark,
                        fmt::format("'program': '{}' is no name of a file in this folder", program),
                        "put the file beside this one and write its name alone");
  auto is = folder.filename();
  if (is.empty()) is = folder.parent_path().filename();
  if (is != manifest.name)
    result.mistakes.add(fields.node("plugin")->mark,
                        fmt::format("'plugin': the name is '{}', the folder '{}'", manifest.name, is.string()),
                        "call both the same, so that a plugin is found by its name");
  read_limits(fields, manifest, result.mistakes);
  return result;
}

ManifestRead read_manifest(const std::filesystem::path& folder) {
  return read_manifest(folder, yaml::load_file(folder / manifest_name, {.bytes = 65536}));
}

}  // namespace eyelevel::plugin
