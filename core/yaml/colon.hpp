// SPDX-License-Identifier: Apache-2.0
// A key whose colon is missing, or has no space behind it: YAML takes such a line for a text, and often complains only
// about the line after it. Not for the reading itself: that is tree_builder.hpp.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace eyelevel::yaml {

struct ColonTrouble {
  std::string message;
  std::string suggestion;
};

// What is to be said of a text that stands where a key with its value should.
ColonTrouble colon_trouble(std::string_view text);

// Where a line begins that should have been a key and a value, when the next one was refused at `offset`: the line
// before it in the same column, without a colon that ends a key.
std::optional<std::size_t> line_without_colon_before(std::string_view text, std::size_t offset);
// That line from there on, without a comment.
std::string_view line_at(std::string_view text, std::size_t offset);

}  // namespace eyelevel::yaml
