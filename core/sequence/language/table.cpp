// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/table.hpp"

#include "core/bench/bench_file.hpp"
#include "core/sequence/language/asked.hpp"
#include "core/yaml/schema.hpp"

namespace eyelevel::sequence {

namespace {

std::shared_ptr<const yaml::KeyTable> role_table() {
  yaml::KeyTable table{.name = "an instrument", .about = "what the sequence asks of an instrument", .keys = {}};
  table.keys.push_back({.name = "kind",
                        .required = true,
                        .type = yaml::Type::word,
                        .help = "what it can do",
                        .example = "oscilloscope",
                        .choices = bench::kinds()});
  table.keys.push_back({.name = "sample rate",
                        .type = yaml::Type::span,
                        .dimension = quantity::sample_rate,
                        .help = "that an oscilloscope must reach",
                        .example = "at least 20 MSa/s"});
  table.keys.push_back({.name = "memory",
                        .type = yaml::Type::span,
                        .dimension = quantity::samples,
                        .help = "that an oscilloscope must have for one capture",
                        .example = "at least 600 kSa"});
  return std::make_shared<const yaml::KeyTable>(std::move(table));
}

yaml::KeyTable make_sequence_table() {
  using yaml::Type;
  const auto role = role_table();
  yaml::KeyTable table{
      .name = "a sequence", .about = "What is to be done with a unit: opening, steps, closing", .keys = {}};
  auto add = [&](yaml::Key key) { table.keys.push_back(std::move(key)); };
  add({.name = "sequence", .required = true, .type = Type::word, .help = "its name", .example = "pickup-level"});
  add({.name = "about",
       .required = true,
       .type = Type::text,
       .help = "what it is for, in one line",
       .example = "RF level of a pickup on a pressed disc"});
  add({.name = "proves",
       .type = Type::word,
       .help = "a run of it that passes proves the bench: later runs say when that was",
       .example = "bench",
       .choices = {"bench"}});
  add({.name = "cautions",
       .type = Type::texts,
       .help = "what can hurt a person or the unit; shown before the first step",
       .example = "[ invisible laser radiation when the cover is open ]"});
  add({.name = "needs",
       .type = Type::named,
       .help = "instruments without which it cannot be done, by role",
       .example = "scope: { kind: oscilloscope }",
       .inside = role});
  add({.name = "helps if there",
       .type = Type::named,
       .help = "instruments that are used when the bench has them; steps that need them are left out otherwise",
       .example = "meter: { kind: multimeter }",
       .inside = role});
  add({.name = "signals",
       .type = Type::own,
       .help = "names for the places where something is measured or given",
       .example = "rf: scope channel 1"});
  add({.name = "asked at start",
       .type = Type::named,
       .help = "values that are given before a run begins; limits and quantities of steps may name them",
       .example = "target: { about: level from the model sheet, usual: 1.20 V }",
       .inside = std::make_shared<const yaml::KeyTable>(asked_table())});
  add({.name = "limits",
       .type = Type::own,
       .help = "names for what readings must meet",
       .example = "level: 1.20 V ± 10 %"});
  add({.name = "opening",
       .type = Type::steps,
       .help = "steps that prepare the instruments",
       .example = "[ { set up: rf } ]"});
  add({.name = "steps",
       .required = true,
       .type = Type::steps,
       .help = "steps that do the work",
       .example = "[ { measure: ... } ]"});
  add({.name = "closing",
       .type = Type::steps,
       .help = "steps that are done whatever happened before",
       .example = "[ { make safe: every instrument, within: 10 s } ]"});
  return table;
}

}  // namespace

const yaml::KeyTable& sequence_table() {
  static const yaml::KeyTable table = make_sequence_table();
  return table;
}

std::string sequence_schema(const Language& language) {
  std::vector<yaml::KeyTable> steps;
  for (const auto& verb : language.verbs.list()) {
    yaml::KeyTable table = verb.declaration.parameters;
    table.about = verb.declaration.about;
    steps.push_back(std::move(table));
  }
  return yaml::json_schema(sequence_table(), "eyelevel sequence", steps);
}

}  // namespace eyelevel::sequence
