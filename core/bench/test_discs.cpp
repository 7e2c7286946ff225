// SPDX-License-Identifier: Apache-2.0
#include "core/bench/test_discs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <string_view>
#include <utility>

#include "core/yaml/fields.hpp"

namespace eyelevel::bench {
namespace {

using yaml::KeyTable;
using yaml::Type;

constexpr const char* example_mark = "12 tracks to 48:03:22, 5C1E";

// Takes `shape` from the beginning: 9 stands for a digit, F for a digit of a hexadecimal number, else itself.
bool take(std::string_view& text, std::string_view shape) {
  if (text.size() < shape.size()) return false;
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const char c = text[i];
    const bool digit = c >= '0' && c <= '9', hexadecimal = digit || (c >= 'A' && c <= 'F');
    if (shape[i] == '9' ? !digit : shape[i] == 'F' ? !hexadecimal : c != shape[i]) return false;
  }
  text.remove_prefix(shape.size());
  return true;
}

bool is_mark(std::string_view text) {
  if (!take(text, "99 tracks") && !take(text, "9 tracks") && !take(text, "1 track")) return false;
  return take(text, " to 99:99:99, FFFF") && text.empty();
}

KeyTable test_disc_table() {
  return {"a test disc",
          "one disc that the workshop knows, or one pressing",
          {{.name = "name", .required = true, .type = Type::text, .help = "as written on it", .example = "TD-1"},
           {.name = "mark",
            .required = true,
            .type = Type::text,
            .help = "as eyelevel analyse prints it of a capture of the lead-in",
            .example = example_mark},
           {.name = "kind",
            .required = true,
            .type = Type::word,
            .help = "what it was made as",
            .example = "pressed",
            .choices = {"pressed", "recordable", "rewritable"}}}};
}

}  // namespace

const TestDisc* TestDiscs::find(std::string_view mark) const {
  const auto found = std::find_if(list.begin(), list.end(), [&](const TestDisc& disc) { return disc.mark == mark; });
  return found != list.end() ? &*found : nullptr;
}

KeyTable test_discs_table() {
  return {"a list of test discs",
          "the discs that the workshop knows",
          {{.name = "test discs",
            .required = true,
            .type = Type::groups,
            .help = "each with name, mark and kind",
            .example = fmt::format("[ {{ name: TD-1, mark: '{}', kind: pressed }} ]", example_mark),
            .inside = std::make_shared<const KeyTable>(test_disc_table())}}};
}

bool is_test_discs(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "test discs"; }

TestDiscsRead read_test_discs(yaml::Document document) {
  TestDiscsRead result{{document.file, {}}, std::move(document.mistakes)};
  if (document.root.shape == yaml::Shape::nothing) return result;
  if (!yaml::check(document.root, test_discs_table(), result.mistakes)) return result;
  for (const yaml::Node& node : document.root.find("test discs")->items) {
    const yaml::Fields fields(node);
    TestDisc disc{fields.text("name").value_or(""), fields.text("mark").value_or(""), fields.text("kind").value_or("")};
    const yaml::Mark at = node.find("mark")->mark;
    if (!is_mark(disc.mark)) {
      result.mistakes.add(at, fmt::format("'mark': expected the mark of a table of contents, found '{}'", disc.mark),
                          fmt::format("write it as eyelevel analyse prints it, such as '{}'", example_mark));
    }
    if (const TestDisc* other = result.discs.find(disc.mark)) {
      result.mistakes.add(at,
                          fmt::format("'{}' has the mark of '{}': they cannot be told apart", disc.name, other->name),
                          "name discs of one pressing once");
    }
    const auto& list = result.discs.list;
    if (std::any_of(list.begin(), list.end(), [&](const TestDisc& other) { return other.name == disc.name; })) {
      result.mistakes.add(node.find("name")->mark, fmt::format("the name '{}' stands here a second time", disc.name),
                          "give each disc a name of its own");
    }
    result.discs.list.push_back(std::move(disc));
  }
  return result;
}

TestDiscsRead read_test_discs(const std::filesystem::path& path) { return read_test_discs(yaml::load_file(path)); }

}  // namespace eyelevel::bench
