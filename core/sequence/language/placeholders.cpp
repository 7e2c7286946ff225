// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/placeholders.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

bool is_of_name(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
}

// The length of `<NAME>` at the beginning, or 0.
std::size_t placeholder_length(std::string_view text) {
  if (text.empty() || text.front() != '<') return 0;
  const auto end = std::find_if_not(text.begin() + 1, text.end(), is_of_name);
  if (end == text.begin() + 1 || end == text.end() || *end != '>') return 0;
  return static_cast<std::size_t>(end - text.begin()) + 1;
}

std::string filled_in(std::string_view text, const FillIns& values) {
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = placeholder_length(text.substr(at));
    const auto value = length == 0 ? values.end() : values.find(std::string(text.substr(at + 1, length - 2)));
    const std::size_t step = std::max<std::size_t>(length, 1);
    if (value == values.end()) {
      out += text.substr(at, step);
    } else {
      out += value->second;
    }
    at += step;
  }
  return out;
}

}  // namespace

yaml::Node filled_in(const yaml::Node& node, const FillIns& values) {
  yaml::Node out = node;
  if (out.shape == yaml::Shape::text) {
    out.text = filled_in(std::string_view(node.text), values);
    // What was filled in does not stand in the file: only the beginning of the text does.
    out.is_plain = node.is_plain && out.text == node.text;
  }
  for (yaml::Node& item : out.items) item = filled_in(item, values);
  for (yaml::Entry& entry : out.entries) entry.value = filled_in(entry.value, values);
  return out;
}

std::vector<std::string> placeholders_in(std::string_view text) {
  std::vector<std::string> names;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = placeholder_length(text.substr(at));
    if (length > 0) names.emplace_back(text.substr(at + 1, length - 2));
    at += std::max<std::size_t>(length, 1);
  }
  return names;
}

void report_not_filled_in(const yaml::Node& step, const std::vector<std::string>& known, yaml::Mistakes& mistakes) {
  if (known.empty()) return;
  const auto look = [&](const yaml::Node& value) {
    for (const std::string& name : placeholders_in(value.text))
      mistakes.add(value.mark, fmt::format("nothing is filled in for '<{}>'", name),
                   yaml::would_be_right(name, known, ""));
  };
  for (const yaml::Entry& e : step.entries) {
    look(e.value);
    if (e.value.shape == yaml::Shape::map)
      for (const yaml::Entry& inner : e.value.entries) look(inner.value);
  }
}

}  // namespace eyelevel::sequence
