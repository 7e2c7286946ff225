// SPDX-License-Identifier: Apache-2.0
// The lists in which verbs, measures, kinds, transports, sheet sections and troubles are found by name. A register is a
// value: core/program fills it before anything is checked, what we ship and what a plugin brings alike. There is no
// static self-registration. Not thread-safe while it is being filled; afterwards it is only read.
#pragma once

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/yaml/key_table.hpp"

namespace eyelevel::registers {

// What an entry says of itself: for help, checking and the schema.
struct Declaration {
  std::string name;           // "wait for"
  std::string about;          // one line
  yaml::KeyTable parameters;  // its keys, with units, help and examples
  std::string example;        // a few lines of YAML that check
  std::string from = "built in";
  std::string sentence = {};  // of a verb: what it does, with `<key>` for what a step says under its keys
};

namespace detail {
[[noreturn]] void refuse_second(std::string_view what, const Declaration& second, const Declaration& first);
[[noreturn]] void refuse_nameless(std::string_view what, const Declaration& entry);
std::optional<std::string> nearest_name(std::string_view name, const std::vector<std::string>& names);
std::string unknown_text(std::string_view what, std::string_view name, const std::vector<std::string>& names);
}  // namespace detail

template <class Call>
class Register {
 public:
  struct Entry {
    Declaration declaration;
    Call call;
  };

  explicit Register(std::string what) : what_(std::move(what)) {}  // "verb", "measure", ...

  // Throws Error(bad_input) when the name is taken or empty: the first one stays.
  void add(Declaration declaration, Call call) {
    if (declaration.name.empty()) detail::refuse_nameless(what_, declaration);
    if (const Entry* first = find(declaration.name)) detail::refuse_second(what_, declaration, first->declaration);
    entries_.push_back({std::move(declaration), std::move(call)});
  }

  // One more key of an entry, which others bring: a measure its own keys to the verb `measure`. A key that is there
  // stays.
  void add_key(std::string_view name, yaml::Key key) {
    for (Entry& e : entries_)
      if (e.declaration.name == name && !e.declaration.parameters.find(key.name))
        e.declaration.parameters.keys.push_back(std::move(key));
  }

  const Entry* find(std::string_view name) const {
    const auto it =
        std::find_if(entries_.begin(), entries_.end(), [&](const Entry& e) { return e.declaration.name == name; });
    return it == entries_.end() ? nullptr : &*it;
  }
  std::vector<std::string> names() const {
    std::vector<std::string> all;
    all.reserve(entries_.size());
    for (const Entry& e : entries_) all.push_back(e.declaration.name);
    return all;
  }
  std::optional<std::string> nearest(std::string_view name) const { return detail::nearest_name(name, names()); }
  // "unknown verb 'promt'; did you mean 'prompt'?" or, with nothing near, all the names.
  std::string unknown(std::string_view name) const { return detail::unknown_text(what_, name, names()); }

  const std::vector<Entry>& list() const { return entries_; }
  const std::string& what() const { return what_; }

 private:
  std::string what_;
  std::vector<Entry> entries_;
};

}  // namespace eyelevel::registers
