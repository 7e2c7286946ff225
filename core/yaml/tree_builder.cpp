// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/tree_builder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>
#include <utility>

#include "core/yaml/colon.hpp"

namespace eyelevel::yaml {
namespace {

bool is_space(char c) { return c == ' ' || c == '\n' || c == '\r'; }

// yaml-cpp reports an absent value and the words ~ and null alike. A word stands on the line of what introduces it.
std::string_view null_word_at(std::string_view text, std::size_t offset, bool is_key) {
  if (!is_key) {
    std::size_t before = offset;
    while (before > 0 && text[before - 1] == ' ') --before;
    if (before == 0 || text[before - 1] == '\n') return {};
  }
  static constexpr std::array<std::string_view, 4> words{"~", "null", "Null", "NULL"};
  for (const std::string_view word : words) {
    if (!text.substr(offset).starts_with(word)) continue;
    const std::size_t end = offset + word.size();
    if (end == text.size() || is_space(text[end]) || std::string_view(":,]}").find(text[end]) != std::string_view::npos)
      return word;
  }
  return {};
}

// Whether the quotation mark at `offset` has its partner: yaml-cpp takes the end of the file for one.
bool is_closed(std::string_view text, std::size_t offset) {
  const char mark = text[offset];
  for (std::size_t i = offset + 1; i < text.size(); ++i) {
    if (mark == '"' && text[i] == '\\') {
      ++i;
    } else if (text[i] == mark) {
      const bool doubled = mark == '\'' && i + 1 < text.size() && text[i + 1] == mark;
      if (!doubled) return true;
      ++i;
    }
  }
  return false;
}

// Where an unquoted value that begins at `offset` ends in the source; folded lines count as one space in `value`.
std::size_t end_of_plain(std::string_view text, std::size_t offset, std::string_view value) {
  std::size_t at = offset;
  for (const char c : value) {
    if (is_space(c)) {
      while (at < text.size() && is_space(text[at])) ++at;
    } else if (at < text.size() && text[at] == c) {
      ++at;
    } else if (at >= text.size() || !is_space(text[at])) {
      return std::string_view::npos;
    }
  }
  return at;
}

}  // namespace

std::size_t TreeBuilder::offset_of(const YAML::Mark& mark) const {
  return std::min(static_cast<std::size_t>(std::max(mark.pos, 0)), source_.text().size());
}

void TreeBuilder::refuse(std::size_t offset, std::string message, std::string suggestion) {
  mistakes_.add(source_.mark_of(offset), std::move(message), std::move(suggestion));
  throw Refused{};
}

void TreeBuilder::refuse_extras(std::size_t offset, const std::string& tag, YAML::anchor_t anchor) {
  if (anchor != 0)
    refuse(offset, "an anchor (&) is not used in these files",
           "write the value out where it is needed, or quote the text");
  if (!tag.empty() && tag != "?" && tag != "!")
    refuse(offset, fmt::format("a tag ({}) is not used in these files", tag), "leave it out: every value is a text");
}

void TreeBuilder::OnDocumentStart(const YAML::Mark& mark) {
  if (++documents_ == 1) return;
  if (source_.text().substr(offset_of(mark)).starts_with("---"))
    refuse(offset_of(mark), "a second document begins here (---)", "put it into a file of its own");
  refuse(offset_of(mark), "this line does not belong to what stands above it",
         "begin every entry of a list with '- ', every key with its name and a colon, and indent them alike");
}

void TreeBuilder::OnAlias(const YAML::Mark& mark, YAML::anchor_t) {
  refuse(offset_of(mark), "an alias (*) is not used in these files", "write the value out, or put the text in quotes");
}

void TreeBuilder::OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) {
  const std::size_t offset = offset_of(mark);
  refuse_extras(offset, {}, anchor);
  Node node;
  node.text = null_word_at(source_.text(), offset, awaits_key());
  node.shape = node.text.empty() ? Shape::nothing : Shape::text;
  node.is_plain = !node.text.empty();
  const std::size_t length = node.text.size();
  if (length > 0) look_for_cut_text(offset, node.text);
  put(std::move(node), offset);
}

void TreeBuilder::OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                           const std::string& value) {
  const std::size_t offset = offset_of(mark);
  refuse_extras(offset, tag, anchor);
  Node node;
  node.shape = Shape::text;
  node.text = value;
  const std::string_view rest = source_.text().substr(offset);
  if (tag == "!" && (rest.starts_with('"') || rest.starts_with('\'')) && !is_closed(source_.text(), offset))
    refuse(offset, "a quotation mark is not closed", "add the closing quotation mark");
  node.is_plain = tag == "?" && rest.starts_with(value);
  if (tag == "?") look_for_cut_text(offset, value);
  put(std::move(node), offset);
}

void TreeBuilder::OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                                  YAML::EmitterStyle::value) {
  refuse_extras(offset_of(mark), tag, anchor);
  open(Shape::list, offset_of(mark));
}

void TreeBuilder::OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                             YAML::EmitterStyle::value) {
  refuse_extras(offset_of(mark), tag, anchor);
  open(Shape::map, offset_of(mark));
}

bool TreeBuilder::awaits_key() const {
  return !open_.empty() && open_.back().node.shape == Shape::map && !open_.back().has_key;
}

void TreeBuilder::open(Shape shape, std::size_t offset) {
  if (awaits_key()) refuse(offset, "a key must be a text", "write the key as words before the colon");
  if (open_.size() >= static_cast<std::size_t>(limits_.depth))
    refuse(offset, fmt::format("nested more than {} levels deep", limits_.depth),
           "put the inner steps into a part of their own");
  Open next;
  next.node.shape = shape;
  next.node.mark = source_.mark_of(offset);
  open_.push_back(std::move(next));
}

void TreeBuilder::close() {
  Node done = std::move(open_.back().node);
  open_.pop_back();
  if (open_.empty()) {
    root_ = std::move(done);
  } else if (open_.back().node.shape == Shape::list) {
    open_.back().node.items.push_back(std::move(done));
  } else {
    open_.back().node.entries.back().value = std::move(done);
    open_.back().has_key = false;
  }
}

void TreeBuilder::put(Node node, std::size_t offset) {
  node.mark = source_.mark_of(offset);
  if (open_.empty()) {
    root_ = std::move(node);
    return;
  }
  Open& top = open_.back();
  if (top.node.shape == Shape::list) {
    top.node.items.push_back(std::move(node));
  } else if (!top.has_key) {
    put_key(node, offset);
  } else {
    Entry& entry = top.node.entries.back();
    if (node.shape == Shape::nothing) {
      look_for_colon(entry);
      node.mark = entry.key_mark;  // nothing stands nowhere: show its key
    }
    entry.value = std::move(node);
    top.has_key = false;
  }
}

// yaml-cpp takes a text where a key should stand for a key without a value.
void TreeBuilder::look_for_colon(const Entry& entry) {
  const Open& top = open_.back();
  // A list in brackets that is not closed looks the same at its last entry; yaml-cpp reports that itself.
  const bool alone_in_list =
      open_.size() > 1 && open_[open_.size() - 2].node.shape == Shape::list && top.node.mark == entry.key_mark;
  const std::string_view text = source_.text();
  std::size_t end = end_of_plain(text, top.key_offset, entry.key);
  if (alone_in_list || end == std::string_view::npos) return;  // a quoted key has its colon
  while (end < text.size() && text[end] == ' ') ++end;
  if (end < text.size() && text[end] == ':') return;
  const ColonTrouble trouble = colon_trouble(entry.key);
  refuse(top.key_offset, trouble.message, trouble.suggestion);
}

void TreeBuilder::put_key(const Node& node, std::size_t offset) {
  Open& top = open_.back();
  if (node.text.empty()) refuse(offset, "a key is missing before the colon", "write the key as words before the colon");
  for (const Entry& entry : top.node.entries) {
    if (entry.key != node.text) continue;
    if (mistakes_.size() < limits_.mistakes)
      mistakes_.add(
          node.mark,
          fmt::format("the key '{}' stands here a second time, first in line {}", node.text, entry.key_mark.line),
          "keep one of them");
    break;
  }
  top.node.entries.push_back({node.text, node.mark, {}});
  top.has_key = true;
  top.key_offset = offset;
}

void TreeBuilder::look_for_cut_text(std::size_t offset, const std::string& value) {
  const std::string_view text = source_.text();
  const std::size_t end = end_of_plain(text, offset, value);
  if (end == std::string_view::npos || mistakes_.size() >= limits_.mistakes) return;
  std::size_t hash = end;
  while (hash < text.size() && text[hash] == ' ') ++hash;
  if (hash >= text.size() || text[hash] != '#' || hash - end != 1) return;
  const std::string_view line = text.substr(hash, std::min(text.find('\n', hash), text.size()) - hash);
  const std::string_view cut = line.substr(0, line.find_last_not_of("\r ") + 1);
  const bool glued = cut.size() > 1 && cut[1] != ' ' && cut[1] != '#';
  if (glued) {
    mistakes_.add(source_.mark_of(hash), fmt::format("'{}' would be cut off: # after a space begins a comment", cut),
                  fmt::format("put the text in quotes: \"{} {}\"", value, cut));
  } else {
    mistakes_.add(source_.mark_of(hash), fmt::format("'{}' is taken as a comment", cut),
                  "put two spaces before a comment, or the text in quotes", Severity::warning);
  }
}

}  // namespace eyelevel::yaml
