// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/outside/values.hpp"

#include "core/yaml/fields.hpp"

namespace eyelevel::sequence {

namespace {

std::optional<registers::OutsideValue> value_of(const yaml::Fields& fields, const yaml::Key& key) {
  switch (key.type) {
    case yaml::Type::quantity:
      if (const auto value = fields.quantity(key.name, key.dimension)) return *value;
      return std::nullopt;
    case yaml::Type::count:
      if (const auto value = fields.count(key.name)) return *value;
      return std::nullopt;
    case yaml::Type::yes_no:
      if (const auto value = fields.yes_no(key.name)) return *value;
      return std::nullopt;
    default:
      if (const auto value = fields.text(key.name)) return *value;
      return std::nullopt;
  }
}

}  // namespace

registers::OutsideValues values_of(const yaml::Node& step, const yaml::KeyTable& own) {
  registers::OutsideValues values;
  const yaml::Fields fields(step);
  for (const yaml::Key& key : own.keys)
    if (auto value = value_of(fields, key)) values.emplace(key.name, std::move(*value));
  return values;
}

bool can_be_handed_out(yaml::Type type) {
  using yaml::Type;
  return type == Type::text || type == Type::word || type == Type::count || type == Type::quantity ||
         type == Type::yes_no;
}

}  // namespace eyelevel::sequence
