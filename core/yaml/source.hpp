// SPDX-License-Identifier: Apache-2.0
// The text of a file with its lines, and what can be seen before any YAML is read: encoding, control characters, tabs.
// Byte offsets become lines and columns here and nowhere else. The text must outlive the Source.
#pragma once

#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

#include "core/yaml/mistake.hpp"

namespace eyelevel::yaml {

class Source {
 public:
  explicit Source(std::string_view text);

  std::string_view text() const { return text_; }
  Mark mark_of(std::size_t offset) const;  // beyond the end: the end

  // Reports what makes the bytes unreadable as a text file; true when nothing did.
  bool check_bytes(Mistakes& mistakes, std::size_t most) const;

 private:
  bool check_encoding(Mistakes& mistakes) const;
  void check_tabs(Mistakes& mistakes, std::size_t most) const;

  std::string_view text_;
  std::vector<std::size_t> line_begins_;
};

// Bytes before the first that is not valid UTF-8 (RFC 3629: no overlong forms, no surrogates, at most U+10FFFF).
std::size_t valid_utf8(std::string_view text);

}  // namespace eyelevel::yaml
