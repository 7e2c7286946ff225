// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/fields.hpp"

namespace eyelevel::yaml {
namespace {

template <class T>
std::optional<T> value_of(const quantity::Parsed<T>& parsed) {
  if (!parsed) return std::nullopt;  // reported by check()
  return *parsed;
}

}  // namespace

std::optional<std::string> Fields::text(std::string_view key) const {
  const Node* found = node_->find(key);
  if (found == nullptr || found->shape != Shape::text) return std::nullopt;
  return found->text;
}

std::optional<double> Fields::quantity(std::string_view key, quantity::Dimension dimension) const {
  const auto found = text(key);
  if (!found) return std::nullopt;
  return value_of(quantity::parse_quantity(*found, dimension));
}

std::optional<quantity::Span> Fields::span(std::string_view key, quantity::Dimension dimension) const {
  const auto found = text(key);
  if (!found) return std::nullopt;
  return value_of(quantity::parse_span(*found, dimension));
}

std::optional<quantity::Tolerance> Fields::tolerance(std::string_view key, quantity::Dimension dimension) const {
  const auto found = text(key);
  if (!found) return std::nullopt;
  return value_of(quantity::parse_tolerance(*found, dimension));
}

std::optional<long long> Fields::count(std::string_view key) const {
  const auto found = text(key);
  if (!found) return std::nullopt;
  return value_of(quantity::parse_count(*found));
}

std::optional<bool> Fields::yes_no(std::string_view key) const {
  const auto found = text(key);
  if (found == "yes") return true;
  if (found == "no") return false;
  return std::nullopt;
}

std::vector<std::string> Fields::texts(std::string_view key) const {
  std::vector<std::string> all;
  const Node* found = node_->find(key);
  if (found == nullptr) return all;
  for (const Node& item : found->items)
    if (item.shape == Shape::text) all.push_back(item.text);
  return all;
}

}  // namespace eyelevel::yaml
