// SPDX-License-Identifier: Apache-2.0
#include "core/register/register.hpp"

#include <fmt/format.h>

#include "core/base/error.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::registers::detail {

void refuse_second(std::string_view what, const Declaration& second, const Declaration& first) {
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("{} '{}' from {} is refused: the name is taken by the one from {}", what, second.name,
                                second.from, first.from),
                    "give it another name");
}

void refuse_nameless(std::string_view what, const Declaration& entry) {
  throw base::Error(base::ErrorCode::bad_input, fmt::format("a {} from {} has no name", what, entry.from),
                    "give it a name");
}

std::optional<std::string> nearest_name(std::string_view name, const std::vector<std::string>& names) {
  return yaml::nearest(name, names);
}

std::string unknown_text(std::string_view what, std::string_view name, const std::vector<std::string>& names) {
  if (const auto near = yaml::nearest(name, names))
    return fmt::format("unknown {} '{}'; did you mean '{}'?", what, name, *near);
  if (names.empty()) return fmt::format("unknown {} '{}'; none is registered", what, name);
  return fmt::format("unknown {} '{}'; known: {}", what, name, yaml::one_of(names));
}

}  // namespace eyelevel::registers::detail
