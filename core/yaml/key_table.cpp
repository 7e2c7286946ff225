// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/key_table.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/yaml/date.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::yaml {
namespace {

std::string shown(const Node& node) {
  if (node.shape != Shape::text) return std::string(with_article(node.shape));
  constexpr std::size_t most = 40;
  return node.text.size() <= most ? fmt::format("'{}'", node.text) : fmt::format("'{}...'", node.text.substr(0, most));
}

std::string as_example(const Key& key) { return fmt::format("write {}: {}", key.name, key.example); }

std::string expected_of(const Key& key) {
  switch (key.type) {
    case Type::text: return "a text";
    case Type::word: return key.choices.empty() ? "one word" : one_of(key.choices);
    case Type::count: return "a whole number";
    case Type::quantity: return quantity::with_article(key.dimension);
    case Type::span: return "a limit for " + quantity::with_article(key.dimension);
    case Type::tolerance: return "a tolerance";
    case Type::date: return "a date";
    case Type::yes_no: return "yes or no";
    case Type::texts: return "a list of texts";
    case Type::group: return "a group of keys";
    case Type::named: return "a group of names";
    case Type::groups: return "a list";
    case Type::steps: return "a list of steps";
    case Type::own: return "a value";
  }
  return "a value";
}

void wrong_type(const Node& node, const Key& key, Mistakes& mistakes) {
  mistakes.add(node.mark, fmt::format("'{}': expected {}, found {}", key.name, expected_of(key), shown(node)),
               as_example(key));
}

template <class T>
bool accepted(const Node& node, const Key& key, const quantity::Parsed<T>& parsed, Mistakes& mistakes) {
  if (parsed) return true;
  report(node, parsed.error(), mistakes, key.name);
  return false;
}

bool is_word(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
}

bool check_word(const Node& node, const Key& key, Mistakes& mistakes) {
  if (key.choices.empty()) {
    if (is_word(node.text)) return true;
    mistakes.add(node.mark, fmt::format("'{}': {} is not one word", key.name, shown(node)),
                 fmt::format("use letters, digits, - and _, as in {}: {}", key.name, key.example));
    return false;
  }
  if (std::find(key.choices.begin(), key.choices.end(), node.text) != key.choices.end()) return true;
  const auto near = nearest(node.text, key.choices);
  mistakes.add(node.mark, fmt::format("'{}': unknown word {}, expected {}", key.name, shown(node), one_of(key.choices)),
               near ? fmt::format("write {}: {}", key.name, *near) : as_example(key));
  return false;
}

bool check_yes_no(const Node& node, const Key& key, Mistakes& mistakes) {
  if (node.text == "yes" || node.text == "no") return true;
  static const std::vector<std::string> yes{"on", "On", "ON", "true", "True", "TRUE", "Yes", "YES", "y", "Y", "1"};
  static const std::vector<std::string> no{"off", "Off", "OFF", "false", "False", "FALSE", "No", "NO", "n", "N", "0"};
  const auto is_in = [&](const std::vector<std::string>& list) {
    return std::find(list.begin(), list.end(), node.text) != list.end();
  };
  std::string suggestion = as_example(key);
  if (is_in(yes)) suggestion = fmt::format("write {}: yes", key.name);
  if (is_in(no)) suggestion = fmt::format("write {}: no", key.name);
  mistakes.add(node.mark, fmt::format("'{}': expected yes or no, found {}", key.name, shown(node)), suggestion);
  return false;
}

bool check_date(const Node& node, const Key& key, Mistakes& mistakes) {
  if (is_date(node.text)) return true;
  mistakes.add(node.mark, fmt::format("'{}': expected a date, found {}", key.name, shown(node)),
               "write year, month and day, such as 2030-06-30");
  return false;
}

bool check_text(const Node& node, const Key& key, Mistakes& mistakes) {
  switch (key.type) {
    case Type::word: return check_word(node, key, mistakes);
    case Type::count: return accepted(node, key, quantity::parse_count(node.text), mistakes);
    case Type::quantity: return accepted(node, key, quantity::parse_quantity(node.text, key.dimension), mistakes);
    case Type::span: return accepted(node, key, quantity::parse_span(node.text, key.dimension), mistakes);
    case Type::tolerance: return accepted(node, key, quantity::parse_tolerance(node.text, key.dimension), mistakes);
    case Type::date: return check_date(node, key, mistakes);
    case Type::yes_no: return check_yes_no(node, key, mistakes);
    default: return true;
  }
}

bool check_texts(const Node& node, const Key& key, Mistakes& mistakes) {
  bool fine = true;
  for (const Node& item : node.items) {
    if (item.shape == Shape::text) continue;
    const std::string advice = item.shape == Shape::map ? "put a text that holds ': ' in quotes" : as_example(key);
    mistakes.add(item.mark, fmt::format("'{}': expected a text, found {}", key.name, shown(item)), advice);
    fine = false;
  }
  return fine;
}

bool check_inside(const Node& node, const Key& key, Mistakes& mistakes) {
  bool fine = true;
  if (key.type == Type::group) return check(node, *key.inside, mistakes);
  if (key.type == Type::groups) {
    for (const Node& item : node.items) fine = check(item, *key.inside, mistakes) && fine;
    return fine;
  }
  for (const Entry& entry : node.entries) fine = check(entry.value, *key.inside, mistakes) && fine;
  return fine;
}

Shape shape_for(Type type) {
  switch (type) {
    case Type::texts:
    case Type::groups: return Shape::list;
    case Type::group:
    case Type::named: return Shape::map;
    default: return Shape::text;
  }
}

}  // namespace

const Key* KeyTable::find(std::string_view key) const {
  const auto it = std::find_if(keys.begin(), keys.end(), [&](const Key& k) { return k.name == key; });
  return it == keys.end() ? nullptr : &*it;
}

void report(const Node& node, const quantity::TextError& error, Mistakes& mistakes, std::string_view key) {
  mistakes.add(node.mark_of(error.offset), key.empty() ? error.message : fmt::format("'{}': {}", key, error.message),
               error.suggestion);
}

void report_unknown(const Entry& entry, const KeyTable& table, Mistakes& mistakes) {
  std::vector<std::string> names;
  names.reserve(table.keys.size());
  for (const Key& key : table.keys) names.push_back(key.name);
  const auto near = nearest(entry.key, names);
  mistakes.add(entry.key_mark, fmt::format("unknown key '{}' in {}", entry.key, table.name),
               near ? fmt::format("write '{}'", *near) : fmt::format("known here: {}", one_of(names)));
}

bool check_value(const Node& node, const Key& key, Mistakes& mistakes) {
  if (node.shape == Shape::nothing) {
    mistakes.add(node.mark, fmt::format("'{}' has no value, expected {}", key.name, expected_of(key)), as_example(key));
    return false;
  }
  if (key.type == Type::own || key.type == Type::steps) return true;
  if (node.shape != shape_for(key.type)) {
    wrong_type(node, key, mistakes);
    return false;
  }
  if (node.shape == Shape::text) return check_text(node, key, mistakes);
  return key.type == Type::texts ? check_texts(node, key, mistakes) : check_inside(node, key, mistakes);
}

bool check(const Node& node, const KeyTable& table, Mistakes& mistakes) {
  if (node.shape != Shape::map) {
    const std::string first =
        table.keys.empty() ? "its keys" : fmt::format("{}: {}", table.keys.front().name, table.keys.front().example);
    mistakes.add(node.mark, fmt::format("expected {} as a group of keys, found {}", table.name, shown(node)),
                 "write " + first);
    return false;
  }
  bool fine = true;
  for (const Entry& entry : node.entries) {
    const Key* key = table.find(entry.key);
    if (key != nullptr) {
      fine = check_value(entry.value, *key, mistakes) && fine;
    } else {
      report_unknown(entry, table, mistakes);
      fine = false;
    }
  }
  for (const Key& key : table.keys) {
    if (!key.required || node.find(key.name) != nullptr) continue;
    mistakes.add(node.mark, fmt::format("'{}' is missing in {}", key.name, table.name), as_example(key));
    fine = false;
  }
  return fine;
}

}  // namespace eyelevel::yaml
