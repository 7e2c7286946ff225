// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/colon.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace eyelevel::yaml {
namespace {

std::size_t begin_of_line(std::string_view text, std::size_t offset) {
  if (offset == 0) return 0;
  const std::size_t before = text.rfind('\n', offset - 1);
  return before == std::string_view::npos ? 0 : before + 1;
}

// Behind the indentation and the dashes of list entries.
std::size_t content_of_line(std::string_view text, std::size_t begin) {
  std::size_t at = begin;
  while (at < text.size() && (text[at] == ' ' || text.substr(at).starts_with("- "))) ++at;
  return at;
}

bool has_key(std::string_view line) { return line.find(": ") != std::string_view::npos || line.ends_with(':'); }

}  // namespace

ColonTrouble colon_trouble(std::string_view text) {
  const std::size_t colon = text.find(':');
  if (colon != std::string_view::npos && colon > 0 && colon + 1 < text.size())
    return {fmt::format("no space behind the colon in '{}'", text),
            fmt::format("write {}: {}", text.substr(0, colon), text.substr(colon + 1))};
  return {fmt::format("'{}' has no colon", text), "write a key, a colon and its value"};
}

std::string_view line_at(std::string_view text, std::size_t offset) {
  std::string_view line = text.substr(std::min(offset, text.size()));
  line = line.substr(0, line.find('\n'));
  line = line.substr(0, line.find(" #"));
  const std::size_t last = line.find_last_not_of(" \r");
  return last == std::string_view::npos ? std::string_view{} : line.substr(0, last + 1);
}

std::optional<std::size_t> line_without_colon_before(std::string_view text, std::size_t offset) {
  offset = std::min(offset, text.size());
  const std::size_t begin = begin_of_line(text, offset);
  const std::size_t column = content_of_line(text, begin) - begin;
  for (std::size_t next = begin; next > 0;) {
    const std::size_t above = begin_of_line(text, next - 1);
    const std::size_t content = content_of_line(text, above);
    const std::string_view line = line_at(text, content);
    next = above;
    if (line.empty() || line.front() == '#') continue;
    const bool is_plain = std::string_view("\"'[]{}|>#&*!%@`").find(line.front()) == std::string_view::npos;
    if (is_plain && content - above == column && !has_key(line)) return content;
    return std::nullopt;
  }
  return std::nullopt;
}

}  // namespace eyelevel::yaml
