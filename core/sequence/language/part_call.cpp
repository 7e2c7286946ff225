// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/part_call.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/sequence/language/asked.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

constexpr std::size_t parts_inside_parts_most = 8;

}  // namespace

bool may_be_used(const yaml::Node& at, const std::string& path, const std::string& top,
                 const std::vector<std::string>& around, yaml::Mistakes& mistakes) {
  if (path == top || std::find(around.begin(), around.end(), path) != around.end()) {
    mistakes.add(at.mark, fmt::format("the part '{}' would use itself", path), "let no part use one that uses it");
    return false;
  }
  if (around.size() >= parts_inside_parts_most) {
    mistakes.add(at.mark, fmt::format("more than {} parts inside one another", parts_inside_parts_most),
                 "put their steps into fewer parts");
    return false;
  }
  return true;
}

FillIns fill_ins(const PartCall& call, const yaml::Document& part, const std::vector<Asked>& asked,
                 yaml::Mistakes& mistakes) {
  FillIns values;
  std::vector<std::string> wanted;
  if (const yaml::Node* filled = part.root.find("filled in"))
    for (const yaml::Entry& e : filled->entries) wanted.push_back(e.key);
  if (call.fill_in)
    for (const yaml::Entry& e : call.fill_in->entries) {
      if (std::find(wanted.begin(), wanted.end(), e.key) == wanted.end()) {
        mistakes.add(e.key_mark, fmt::format("the part has no '{}' to be filled in", e.key),
                     yaml::would_be_right(e.key, wanted, "leave it out"));
      } else {
        values.insert_or_assign(e.key, with_values(e.value.text, asked));
      }
    }
  for (const std::string& name : wanted)
    if (!values.contains(name)) {
      mistakes.add(call.file.mark, fmt::format("the part wants '{}' filled in", name),
                   fmt::format("write `fill in: {{ {}: ... }}`", name));
      values.insert_or_assign(name, "");
    }
  return values;
}

std::vector<std::string> results_of(const yaml::Document& part, const std::map<std::string, Given, std::less<>>& given,
                                    yaml::Mistakes& mistakes) {
  std::vector<std::string> all;
  const yaml::Node* gives = part.root.find("gives");
  if (!gives) return all;
  std::vector<std::string> known;
  known.reserve(given.size());
  for (const auto& entry : given) known.push_back(entry.first);
  for (const yaml::Node& item : gives->items) {
    all.push_back(item.text);
    if (!given.contains(item.text))
      mistakes.add(item.mark, fmt::format("no step of the part gives '{}'", item.text),
                   yaml::would_be_right(item.text, known, "name a result with `name it`"));
  }
  return all;
}

}  // namespace eyelevel::sequence
