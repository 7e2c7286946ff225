// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/source.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>

namespace eyelevel::yaml {
namespace {

std::uint8_t byte(std::string_view text, std::size_t i) {
  return i < text.size() ? static_cast<std::uint8_t>(text[i]) : std::uint8_t{0};
}

bool continues(std::uint8_t b) { return (b & 0xC0U) == 0x80U; }

// Length of the character at `i`, or 0 when it is not valid (RFC 3629, section 4).
std::size_t character_at(std::string_view text, std::size_t i) {
  const std::uint8_t a = byte(text, i);
  const std::uint8_t b = byte(text, i + 1);
  if (a < 0x80U) return 1;
  if (a >= 0xC2U && a <= 0xDFU) return continues(b) ? 2 : 0;
  const bool third = continues(byte(text, i + 2));
  if (a == 0xE0U) return b >= 0xA0U && b <= 0xBFU && third ? 3 : 0;
  if (a == 0xEDU) return b >= 0x80U && b <= 0x9FU && third ? 3 : 0;
  if (a >= 0xE1U && a <= 0xEFU) return continues(b) && third ? 3 : 0;
  const bool fourth = third && continues(byte(text, i + 3));
  if (a == 0xF0U) return b >= 0x90U && b <= 0xBFU && fourth ? 4 : 0;
  if (a == 0xF4U) return b >= 0x80U && b <= 0x8FU && fourth ? 4 : 0;
  if (a >= 0xF1U && a <= 0xF3U) return continues(b) && fourth ? 4 : 0;
  return 0;
}

bool looks_like_utf16(std::string_view text) { return text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF"); }

}  // namespace

std::size_t valid_utf8(std::string_view text) {
  std::size_t i = 0;
  while (i < text.size()) {
    const std::size_t length = character_at(text, i);
    if (length == 0) return i;
    i += length;
  }
  return i;
}

Source::Source(std::string_view text) : text_(text), line_begins_{0} {
  for (std::size_t i = 0; i < text.size(); ++i)
    if (text[i] == '\n') line_begins_.push_back(i + 1);
}

Mark Source::mark_of(std::size_t offset) const {
  offset = std::min(offset, text_.size());
  const auto next = std::upper_bound(line_begins_.begin(), line_begins_.end(), offset);
  const std::size_t begin = *(next - 1);
  int column = 1;
  for (std::size_t i = begin; i < offset; ++i)
    if (!continues(byte(text_, i))) ++column;
  return {static_cast<int>(next - line_begins_.begin()), column};
}

bool Source::check_encoding(Mistakes& mistakes) const {
  if (looks_like_utf16(text_)) {
    mistakes.add({1, 1}, "the file is UTF-16", "save it as UTF-8");
    return false;
  }
  const std::size_t valid = valid_utf8(text_);
  if (valid < text_.size()) {
    mistakes.add(mark_of(valid), fmt::format("byte 0x{:02X} is not UTF-8", byte(text_, valid)),
                 "save the file as UTF-8 (signs such as ± and µ are where it shows)");
    return false;
  }
  for (std::size_t i = 0; i < text_.size(); ++i) {
    const std::uint8_t b = byte(text_, i);
    const bool is_control = (b < 0x20U && b != '\n' && b != '\t' && b != '\r') || b == 0x7FU;
    const bool lone_return = b == '\r' && byte(text_, i + 1) != '\n';
    if (!is_control && !lone_return) continue;
    mistakes.add(mark_of(i), fmt::format("control character 0x{:02X}", b), "this is no text file, or remove it");
    return false;
  }
  return true;
}

void Source::check_tabs(Mistakes& mistakes, std::size_t most) const {
  for (const std::size_t begin : line_begins_) {
    const std::string_view line = text_.substr(begin, text_.find('\n', begin) - begin);
    const std::size_t tab = line.find('\t');
    if (tab == std::string_view::npos) continue;
    const std::size_t first = line.find_first_not_of(" \t\r");
    if (first == std::string_view::npos || line[first] == '#') continue;  // empty lines and comments do no harm
    if (mistakes.size() >= most) return;
    if (tab < first) {
      mistakes.add(mark_of(begin + tab), "a tab where the line is indented", "indent with spaces");
    } else {
      mistakes.add(mark_of(begin + tab), "a tab", "write a space, or \\t inside double quotes");
    }
  }
}

bool Source::check_bytes(Mistakes& mistakes, std::size_t most) const {
  if (!check_encoding(mistakes)) return false;
  check_tabs(mistakes, most);
  return mistakes.fine();
}

}  // namespace eyelevel::yaml
