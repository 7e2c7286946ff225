// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/node.hpp"

#include <algorithm>

namespace eyelevel::yaml {

std::string_view with_article(Shape shape) {
  switch (shape) {
    case Shape::nothing: return "no value";
    case Shape::text: return "a text";
    case Shape::list: return "a list";
    case Shape::map: return "a group of keys";
  }
  return "no value";
}

const Node* Node::find(std::string_view key) const {
  for (const Entry& e : entries)
    if (e.key == key) return &e.value;
  return nullptr;
}

Mark Node::mark_of(std::size_t offset) const {
  if (!is_plain) return mark;
  Mark at = mark;
  for (std::size_t i = 0; i < std::min(offset, text.size()); ++i) {
    const bool continues_a_character = (static_cast<unsigned char>(text[i]) & 0xC0U) == 0x80U;
    if (!continues_a_character) ++at.column;
  }
  return at;
}

}  // namespace eyelevel::yaml
