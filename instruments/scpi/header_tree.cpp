// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/header_tree.hpp"

#include <fmt/format.h>

#include <charconv>

#include "core/base/error.hpp"
#include "instruments/scpi/error.hpp"

namespace eyelevel::scpi {

struct HeaderTree::Node {
  struct Target {
    std::size_t command = 0;
    std::vector<const Node*> numbered;  // the pattern's nodes with <...>, in order
  };

  std::string spelling;  // capitals mark the short form
  bool optional = false;
  bool numbered = false;
  int least = 1;
  int most = 999'999;
  Node* parent = nullptr;
  std::vector<std::unique_ptr<Node>> children;
  std::optional<Target> command;
  std::optional<Target> query;
};

namespace {

[[noreturn]] void refuse(std::string_view pattern, std::string_view why) {
  throw base::Error(base::ErrorCode::defect, fmt::format("header pattern {}: {}", pattern, why));
}

struct PatternNode {
  std::string spelling;
  bool optional = false;
  bool numbered = false;
  int least = 1;
  int most = 999'999;
};

void read_range(std::string_view range, PatternNode& node, std::string_view pattern) {
  node.numbered = true;
  if (range == "n") return;
  const auto dash = range.find('-');
  if (dash == std::string_view::npos) refuse(pattern, "numbers are <n> or <1-4>");
  const auto from = range.substr(0, dash), to = range.substr(dash + 1);
  const auto least = std::from_chars(from.data(), from.data() + from.size(), node.least);
  const auto most = std::from_chars(to.data(), to.data() + to.size(), node.most);
  if (least.ec != std::errc() || most.ec != std::errc() || node.least > node.most)
    refuse(pattern, "numbers are <n> or <1-4>");
}

std::vector<PatternNode> split(std::string_view pattern) {
  std::vector<PatternNode> nodes;
  bool optional = false;
  for (std::size_t at = 0; at < pattern.size();) {
    const char c = pattern[at];
    if (c == '[' || c == ']' || c == ':') {
      if (c == '[') optional = true;
      if (c == ']') optional = false;
      ++at;
      continue;
    }
    const std::size_t end = std::min(pattern.find_first_of("[]:<", at), pattern.size());
    PatternNode node;
    node.spelling = std::string(pattern.substr(at, end - at));
    node.optional = optional;
    at = end;
    if (at < pattern.size() && pattern[at] == '<') {
      const auto close = pattern.find('>', at);
      if (close == std::string_view::npos) refuse(pattern, "'<' without '>'");
      read_range(pattern.substr(at + 1, close - at - 1), node, pattern);
      at = close + 1;
    }
    nodes.push_back(std::move(node));
  }
  if (nodes.empty()) refuse(pattern, "has no mnemonic");
  return nodes;
}

}  // namespace

// Depth-first search with the steps taken so far; optional nodes may be stepped through untyped.
struct HeaderTree::Search {
  const ProgramUnit& unit;
  std::vector<Path::Step> steps;
  std::vector<std::size_t> typed;  // how many steps there were before each typed mnemonic
  bool suffix_out_of_range = false;

  bool from(const Node& node, std::size_t mnemonic) {
    if (mnemonic == unit.mnemonics.size()) return (unit.query ? node.query : node.command).has_value();
    for (const auto& child : node.children)
      if (matches(*child, unit.mnemonics[mnemonic]) && into(*child, mnemonic, unit.mnemonics[mnemonic].suffix))
        return true;
    for (const auto& child : node.children) {
      if (!child->optional) continue;
      steps.push_back({child.get(), -1});
      if (from(*child, mnemonic)) return true;
      steps.pop_back();
    }
    return false;
  }

  bool into(const Node& child, std::size_t mnemonic, int suffix) {
    typed.push_back(steps.size());
    steps.push_back({&child, suffix});
    if (from(child, mnemonic + 1)) return true;
    steps.pop_back();
    typed.pop_back();
    return false;
  }

  bool matches(const Node& node, const Mnemonic& mnemonic) {
    if (!matches_spelling(mnemonic.word, node.spelling)) return false;
    if (mnemonic.suffix < 0) return true;
    if (node.numbered && mnemonic.suffix >= node.least && mnemonic.suffix <= node.most) return true;
    suffix_out_of_range = suffix_out_of_range || node.numbered;
    return false;
  }
};

HeaderTree::HeaderTree() : root_(std::make_unique<Node>()) {}
HeaderTree::HeaderTree(HeaderTree&&) noexcept = default;
HeaderTree& HeaderTree::operator=(HeaderTree&&) noexcept = default;
HeaderTree::~HeaderTree() = default;

void HeaderTree::add(std::string_view pattern, std::size_t command) {
  const bool query = pattern.ends_with('?');
  const auto bare = query ? pattern.substr(0, pattern.size() - 1) : pattern;
  if (bare.starts_with('*')) {
    common_.push_back({std::string(bare.substr(1)), query, command});
    return;
  }
  Node* at = root_.get();
  std::vector<const Node*> numbered;
  for (const auto& wanted : split(bare)) {
    Node* next = nullptr;
    for (const auto& child : at->children)
      if (child->spelling == wanted.spelling && child->numbered == wanted.numbered) next = child.get();
    if (next == nullptr) {
      at->children.push_back(std::make_unique<Node>());
      next = at->children.back().get();
      next->spelling = wanted.spelling;
      next->optional = wanted.optional;
      next->numbered = wanted.numbered;
      next->least = wanted.least;
      next->most = wanted.most;
      next->parent = at;
    } else if (next->optional != wanted.optional) {
      refuse(pattern, wanted.spelling + " is optional in one pattern and not in another");
    }
    if (next->numbered) numbered.push_back(next);
    at = next;
  }
  // A header may stop before trailing optional nodes.
  for (;;) {
    set(*at, query, command, numbered, pattern);
    if (!at->optional || at->parent == nullptr) return;
    at = at->parent;
    if (at == root_.get()) refuse(pattern, "all nodes are optional");
  }
}

void HeaderTree::set(Node& node, bool query, std::size_t command, const std::vector<const Node*>& chain,
                     std::string_view pattern) {
  auto& target = query ? node.query : node.command;
  if (target) refuse(pattern, "is there already");
  target = Node::Target{command, chain};
}

HeaderTree::Match HeaderTree::find(const ProgramUnit& unit, Path& path) const {
  if (unit.common) {
    for (const auto& known : common_)
      if (known.query == unit.query && matches_spelling(unit.mnemonics[0].word, known.word)) return {known.command, {}};
    throw CommandError(-113, "*" + std::string(unit.mnemonics[0].word));
  }
  if (unit.from_root) path.steps_.clear();
  Search search{unit, path.steps_, {}, false};
  const Node& start = path.steps_.empty() ? *root_ : *path.steps_.back().node;
  if (!search.from(start, 0)) {
    if (search.suffix_out_of_range) throw CommandError(-114);
    std::string typed;
    for (const auto& mnemonic : unit.mnemonics) typed += (typed.empty() ? "" : ":") + std::string(mnemonic.word);
    throw CommandError(-113, typed.substr(0, 60));
  }
  const Node& found = *search.steps.back().node;
  const auto& target = unit.query ? *found.query : *found.command;
  Match match{target.command, {}};
  for (const Node* node : target.numbered) {
    int suffix = 1;
    for (const auto& step : search.steps)
      if (step.node == node && step.suffix >= 0) suffix = step.suffix;
    match.suffixes.push_back(suffix);
  }
  // The current node is the one that held the last mnemonic, counted among typed nodes (SCPI-99 Vol. 1, 6.2.4).
  const std::size_t typed_before =
      search.typed.size() > 1 ? search.typed[search.typed.size() - 2] + 1 : path.steps_.size();
  search.steps.resize(typed_before);
  path.steps_ = std::move(search.steps);
  return match;
}

}  // namespace eyelevel::scpi
