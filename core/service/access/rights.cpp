// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/rights.hpp"

#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <utility>

namespace eyelevel::service {

namespace {

constexpr std::array<std::pair<Right, std::string_view>, 4> all_names = {
    {{Right::look, "look"}, {Right::operate, "operate"}, {Right::change, "change"}, {Right::administer, "administer"}}};

}  // namespace

std::string_view name_of(Right right) {
  for (const auto& [one, name] : all_names)
    if (one == right) return name;
  return {};
}

Rights Rights::all() {
  Rights rights;
  for (const auto& [right, name] : all_names) rights.bits_ |= static_cast<unsigned>(right);
  return rights;
}

std::optional<Rights> Rights::of(const std::vector<std::string>& names) {
  Rights rights;
  for (const auto& name : names) {
    const auto* at =
        std::find_if(all_names.begin(), all_names.end(), [&](const auto& known) { return known.second == name; });
    if (at == all_names.end()) return std::nullopt;
    rights.bits_ |= static_cast<unsigned>(at->first);
  }
  return rights;
}

std::optional<Rights> Rights::read(std::string_view text) {
  std::vector<std::string> names;
  while (!text.empty()) {
    const auto comma = text.find(',');
    std::string name(text.substr(0, comma));
    std::erase(name, ' ');
    names.push_back(std::move(name));
    text = comma == std::string_view::npos ? std::string_view() : text.substr(comma + 1);
  }
  return of(names);
}

std::vector<std::string_view> Rights::names() const {
  std::vector<std::string_view> list;
  for (const auto& [right, name] : all_names)
    if (has(right)) list.push_back(name);
  return list;
}

std::string Rights::text() const { return fmt::format("{}", fmt::join(names(), ", ")); }

}  // namespace eyelevel::service
