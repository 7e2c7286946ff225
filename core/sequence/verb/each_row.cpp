// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/each_row.hpp"

#include <fmt/format.h>

#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

constexpr std::string_view example = "- { disc: pressed, track: 2 }";
constexpr std::size_t rows_most = 1000;

bool is_row(StepReader& reader, const yaml::Node& row) {
  if (row.shape == yaml::Shape::map && !row.entries.empty()) return true;
  reader.report(row, fmt::format("a row is a group of columns, found {}", yaml::with_article(row.shape)),
                fmt::format("write it as in `{}`", example));
  return false;
}

// Holds a row against the columns of the first one.
bool has_columns(StepReader& reader, const yaml::Node& row, const std::vector<std::string>& columns) {
  bool fine = true;
  for (const yaml::Entry& e : row.entries) {
    if (std::find(columns.begin(), columns.end(), e.key) == columns.end()) {
      yaml::Node at = e.value;
      at.mark = e.key_mark;
      reader.report(at, fmt::format("the first row has no column '{}'", e.key),
                    yaml::would_be_right(e.key, columns, ""));
      fine = false;
    }
    if (e.value.shape != yaml::Shape::text) {
      reader.report(e.value, fmt::format("'{}' is {}, a row holds texts", e.key, yaml::with_article(e.value.shape)),
                    fmt::format("write it as in `{}`", example));
      fine = false;
    }
  }
  for (const std::string& column : columns)
    if (!row.find(column)) {
      reader.report(row, fmt::format("this row has no '{}'", column), "give each row the columns of the first");
      fine = false;
    }
  return fine;
}

ReadStep read(StepReader& reader) {
  ReadStep step;
  step.flow = Flow::in_order;
  const yaml::Node& rows = *reader.fields.node("for each row");
  if (rows.shape != yaml::Shape::list || rows.items.empty() || rows.items.size() > rows_most) {
    reader.report(rows, fmt::format("a table is a list of 1 to {} rows", rows_most),
                  fmt::format("begin each row as in `{}`", example));
    return step;
  }
  std::vector<std::string> columns;
  for (const yaml::Node& row : rows.items) {
    if (!is_row(reader, row)) continue;
    if (columns.empty())
      for (const yaml::Entry& e : row.entries) columns.push_back(e.key);
    if (!has_columns(reader, row, columns)) continue;
    std::map<std::string, std::string> values;
    for (const yaml::Entry& e : row.entries) values.emplace(e.key, e.value.text);
    for (Step& s : reader.inside.filled_in(*reader.fields.node("do"), values)) step.inside.push_back(std::move(s));
  }
  return step;
}

}  // namespace

void register_each_row(Verbs& verbs) {
  registers::Declaration declared{
      .name = "for each row",
      .about = "do steps once for each row of a table; `<column>` in their texts stands for the row's value",
      .parameters = {.name = "for each row", .about = "steps for each row", .keys = {}},
      .example =
          "- for each row:\n    - { disc: pressed, track: 2 }\n    - { disc: recordable, track: 14 }\n  do:\n    "
          "- note: Now the <disc> disc, track <track>\n",
      .sentence = "For each row of the table"};
  declared.parameters.keys = {{.name = "for each row",
                               .required = true,
                               .type = yaml::Type::own,
                               .help = "the table: a list of rows with the same columns",
                               .example = "[ { disc: pressed }, { disc: recordable } ]"},
                              steps_key("do", "the steps for one row"),
                              within_key(false),
                              otherwise_key()};
  verbs.add(std::move(declared), read);
}

}  // namespace eyelevel::sequence
