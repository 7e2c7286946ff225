// SPDX-License-Identifier: Apache-2.0
// Which keys a group may have, as one table: the reader (check, fields.hpp), the help, and the JSON Schema (schema.hpp)
// all use it, so that they cannot differ. A table is plain data and is made once by whoever owns the file format.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/dimension.hpp"
#include "core/quantity/text.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::yaml {

enum class Type {
  text,       // any text, one line or more
  word,       // one of `choices`, or with no choices one word: letters, digits, - and _
  count,      // a whole number from 0
  quantity,   // of `dimension`
  span,       // of `dimension`: A ± T, A to B, at least A, at most B
  tolerance,  // relative or of `dimension`
  date,       // YYYY-MM-DD
  yes_no,     // yes or no
  texts,      // a list of texts
  group,      // a group of keys by `inside`
  named,      // a group whose keys are free names, each value a group by `inside`
  groups,     // a list of groups by `inside`
  steps,      // a list of steps of a sequence, read by its owner
  own,        // read by its owner (an expression); only its presence is checked here
};

struct KeyTable;

struct Key {
  std::string name;
  bool required = false;
  Type type = Type::text;
  quantity::Dimension dimension{};
  std::string help;     // one line, no full stop
  std::string example;  // a value as the user would write it
  std::vector<std::string> choices{};
  std::shared_ptr<const KeyTable> inside{};
};

struct KeyTable {
  std::string name;   // for messages: "a channel", "prompt"
  std::string about;  // one line
  std::vector<Key> keys;

  const Key* find(std::string_view key) const;
};

// Holds a node against the table and reports every mistake: not a group, unknown key (with the nearest right word),
// missing key, value of a wrong type or dimension, groups inside likewise. True when nothing was wrong.
bool check(const Node& node, const KeyTable& table, Mistakes& mistakes);
// One value against one key of a table.
bool check_value(const Node& node, const Key& key, Mistakes& mistakes);
// For a list of steps whose first key is a verb: reports the unknown key at its place.
void report_unknown(const Entry& entry, const KeyTable& table, Mistakes& mistakes);

// The mistake of a text that a quantity parser refused, at its place in the file.
void report(const Node& node, const quantity::TextError& error, Mistakes& mistakes, std::string_view key = {});

}  // namespace eyelevel::yaml
