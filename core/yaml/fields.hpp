// SPDX-License-Identifier: Apache-2.0
// Typed reading of a group that check() has already held against its table: a key that is absent or was reported gives
// an empty value, never a second message. Values are SI doubles.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/text.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::yaml {

class Fields {
 public:
  explicit Fields(const Node& node) : node_(&node) {}

  const Node* node(std::string_view key) const { return node_->find(key); }
  bool has(std::string_view key) const { return node_->find(key) != nullptr; }
  std::optional<std::string> text(std::string_view key) const;
  std::optional<double> quantity(std::string_view key, quantity::Dimension dimension) const;
  std::optional<quantity::Span> span(std::string_view key, quantity::Dimension dimension) const;
  std::optional<quantity::Tolerance> tolerance(std::string_view key, quantity::Dimension dimension) const;
  std::optional<long long> count(std::string_view key) const;
  std::optional<bool> yes_no(std::string_view key) const;
  std::vector<std::string> texts(std::string_view key) const;

 private:
  const Node* node_;
};

}  // namespace eyelevel::yaml
