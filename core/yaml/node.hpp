// SPDX-License-Identifier: Apache-2.0
// A YAML file as we understand it: every scalar is text (1:30, 00417, NO and on are text too; the field's own parser
// says what they must be), maps keep their order, each key and value knows where it stands. No anchors, aliases, tags
// or second documents. How it is read: load.hpp. How it is held against a table of keys: key_table.hpp and fields.hpp.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/yaml/mistake.hpp"

namespace eyelevel::yaml {

enum class Shape { nothing, text, list, map };
std::string_view with_article(Shape shape);  // "no value", "a text", "a list", "a group of keys"

struct Entry;

struct Node {
  Shape shape = Shape::nothing;
  Mark mark;
  std::string text;            // shape text
  bool is_plain = false;       // not quoted, not a block: `text` stands in the file as it is, from `mark` on
  std::vector<Node> items;     // shape list
  std::vector<Entry> entries;  // shape map, in the order of the file

  // The value of a key, or nullptr.
  const Node* find(std::string_view key) const;
  // Where byte `offset` of `text` stands in the file (the beginning, when the text is quoted or folded).
  Mark mark_of(std::size_t offset) const;
};

struct Entry {
  std::string key;
  Mark key_mark;
  Node value;
};

}  // namespace eyelevel::yaml
