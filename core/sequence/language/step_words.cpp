// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/step_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>

namespace eyelevel::sequence {

namespace {

// A value in one line, as the user wrote it.
std::string in_one_line(const yaml::Node& value) {
  std::string text = value.text;
  for (const yaml::Node& item : value.items) text += (text.empty() ? "" : ", ") + item.text;
  for (const yaml::Entry& e : value.entries)
    text += fmt::format("{}{} {}", text.empty() ? "" : ", ", e.key, e.value.text);
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

}  // namespace

std::string step_in_words(const yaml::Entry& first) {
  const std::string value = first.value.entries.empty() ? in_one_line(first.value) : "";
  return value.empty() ? first.key : first.key + ": " + value;
}

std::vector<std::pair<std::string, std::string>> said_by(const yaml::Node& step, const yaml::KeyTable& parameters) {
  constexpr std::array<std::string_view, 6> common = {"within",  "only with", "try again",
                                                      "name it", "must meet", "resume here"};
  std::vector<std::pair<std::string, std::string>> said;
  for (const yaml::Entry& e : step.entries) {
    const yaml::Key* key = parameters.find(e.key);
    const bool is_common = std::find(common.begin(), common.end(), e.key) != common.end();
    if (key && key->type != yaml::Type::steps && !is_common) said.emplace_back(e.key, in_one_line(e.value));
  }
  return said;
}

}  // namespace eyelevel::sequence
