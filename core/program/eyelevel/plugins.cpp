// SPDX-License-Identifier: Apache-2.0
// `eyelevel plugins`: what is registered, from where, and what was refused and why; one part with its keys; the schema
// for editors with all of it; and the trial that whoever writes a plugin runs on it.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <memory>

#include "core/base/error.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/plugins.hpp"
#include "core/sequence/language/table.hpp"
#include "instruments/plugin/trial.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

struct Options {
  std::string part;
  std::vector<std::string> folders;
  std::string trial;
  bool schema = false;
  bool as_json = false;
};

// Any part as it is listed, wherever it is registered.
struct Row {
  std::string kind;
  registers::Declaration declaration;
};

std::vector<Row> rows_of(const Equipment& equipment) {
  std::vector<Row> rows;
  for (const auto& verb : equipment.language.verbs.list()) rows.push_back({"verb", verb.declaration});
  for (const auto& measure : equipment.language.measures.list()) rows.push_back({"measure", measure.declaration});
  for (const auto& plugin : equipment.plugins.plugins)
    for (const auto& part : plugin->parts)
      if (part.kind == registers::PartKind::driver || part.kind == registers::PartKind::transport)
        rows.push_back({std::string(registers::name_of(part.kind)), part.declaration});
  return rows;
}

std::string_view name_of(yaml::Type type) {
  using yaml::Type;
  switch (type) {
    case Type::word: return "word";
    case Type::count: return "whole number";
    case Type::quantity: return "quantity";
    case Type::yes_no: return "yes or no";
    case Type::texts: return "texts";
    case Type::own:
    case Type::text: return "text";
    default: return "group";
  }
}

json::object key_json(const yaml::Key& key) {
  return {{"name", key.name},
          {"type", name_of(key.type)},
          {"required", key.required},
          {"unit", key.type == yaml::Type::quantity ? json::value(quantity::unit_of(key.dimension)) : json::value()},
          {"help", key.help},
          {"example", key.example}};
}

json::object row_json(const Row& row) {
  json::array keys;
  for (const auto& key : row.declaration.parameters.keys) keys.push_back(key_json(key));
  return {{"kind", row.kind},
          {"name", row.declaration.name},
          {"about", row.declaration.about},
          {"from", row.declaration.from},
          {"keys", std::move(keys)},
          {"example", row.declaration.example}};
}

void print_json(const Equipment& equipment, const std::vector<Row>& rows) {
  json::array registered, plugins, refused;
  for (const Row& row : rows) registered.push_back(row_json(row));
  for (const auto& plugin : equipment.plugins.plugins)
    plugins.push_back(json::object{{"name", plugin->manifest.name},
                                   {"about", plugin->manifest.about},
                                   {"form", plugin::name_of(plugin->manifest.form)},
                                   {"folder", plugin->manifest.folder.string()},
                                   {"parts", plugin->parts.size()}});
  for (const auto& refusal : equipment.plugins.refused)
    refused.push_back(json::object{{"folder", refusal.folder.string()}, {"why", refusal.why}});
  fmt::print("{}\n", json::serialize(json::object{{"registered", std::move(registered)},
                                                  {"plugins", std::move(plugins)},
                                                  {"refused", std::move(refused)}}));
}

void print_list(const Equipment& equipment, const std::vector<Row>& rows, const Options& options) {
  for (const Row& row : rows)
    fmt::print("{:<10}{:<22}{:<28}{}\n", row.kind, row.declaration.name, row.declaration.from, row.declaration.about);
  for (const auto& folder : plugin_folders(options.folders))
    fmt::print("plugins are looked for in {}\n", folder.string());
  for (const auto& plugin : equipment.plugins.plugins)
    fmt::print("plugin {} ({}): {}\n    {}\n", plugin->manifest.name, plugin::name_of(plugin->manifest.form),
               plugin->manifest.about, plugin->manifest.folder.string());
  for (const auto& refusal : equipment.plugins.refused)
    fmt::print("refused: {}\n    {}\n", refusal.folder.string(), refusal.why);
}

int print_part(const std::vector<Row>& rows, const Options& options) {
  bool found = false;
  for (const Row& row : rows) {
    if (row.declaration.name != options.part) continue;
    found = true;
    if (options.as_json) {
      fmt::print("{}\n", json::serialize(row_json(row)));
      continue;
    }
    fmt::print("{} '{}', {}\n{}\n", row.kind, row.declaration.name, row.declaration.from, row.declaration.about);
    for (const auto& key : row.declaration.parameters.keys)
      fmt::print("  {:<16}{}{} (as in {}: {})\n", key.name, key.help, key.required ? "; must be given" : "", key.name,
                 key.example);
    fmt::print("Example:\n{}", row.declaration.example);
    if (!row.declaration.example.ends_with('\n')) fmt::print("\n");
  }
  if (found) return all_met;
  throw base::Error(base::ErrorCode::not_found, fmt::format("nothing is registered as '{}'", options.part),
                    "eyelevel plugins lists all there is");
}

// 0 when the plugin keeps all that it must.
int try_out(const Options& options) {
  const auto findings = plugin::try_out(options.trial);
  json::array list;
  bool is_good = true;
  for (const auto& finding : findings) {
    is_good = is_good && finding.is_good;
    if (options.as_json)
      list.push_back(json::object{{"what", finding.what}, {"good", finding.is_good}, {"seen", finding.seen}});
    else
      fmt::print("{:<7}{}\n{}", finding.is_good ? "ok" : "WRONG", finding.what,
                 finding.seen.empty() ? std::string() : fmt::format("       {}\n", finding.seen));
  }
  if (options.as_json) fmt::print("{}\n", json::serialize(list));
  return is_good ? all_met : not_met;
}

int plugins(const Options& options) {
  if (!options.trial.empty()) return try_out(options);
  const Equipment equipment = equip(options.folders);
  if (options.schema) {
    fmt::print("{}", sequence::sequence_schema(equipment.language));
    return equipment.plugins.refused.empty() ? all_met : not_met;
  }
  const auto rows = rows_of(equipment);
  if (!options.part.empty()) return print_part(rows, options);
  if (options.as_json)
    print_json(equipment, rows);
  else
    print_list(equipment, rows, options);
  return equipment.plugins.refused.empty() ? all_met : not_met;
}

}  // namespace

void add_plugins(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(
      app, "plugins", "Verbs, measures, drivers and transports: what is registered, from where, what was refused",
      "eyelevel plugins --plugins examples/plugins");
  command->add_option("part", options->part, "say everything of one verb, measure, driver or transport");
  add_plugins_option(*command, options->folders);
  command->add_option("--try", options->trial,
                      "hold the plugin in this folder against all that a plugin must keep; its verbs are really asked");
  command->add_flag("--schema", options->schema, "print the JSON Schema of sequences with all that is registered");
  command->add_flag("--json", options->as_json, "print JSON");
  command->callback([options, &chosen] { chosen = [options] { return plugins(*options); }; });
}

}  // namespace eyelevel::program
