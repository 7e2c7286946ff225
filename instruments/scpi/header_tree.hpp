// SPDX-License-Identifier: Apache-2.0
// Which command a program header means: registered patterns such as "[SENSe]:VOLTage<n>[:DC]:RANGe:PTPeak" against what
// was typed, by short and long forms (SCPI-99 Vol. 1, 6.2.1), numeric suffixes (6.2.5) and the path rule of IEEE 488.2,
// 7.6.1.5 and appendix A: after ';' a header without leading colon is looked up in the node that held the last mnemonic
// of the one before; a common command leaves the path alone; a new message begins at the root.
#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "instruments/scpi/message/program_parser.hpp"

namespace eyelevel::scpi {

class HeaderTree {
  struct Node;

 public:
  // Where in the tree the next header without colon is looked up. Make one for each program message.
  class Path {
    friend class HeaderTree;
    struct Step {
      const Node* node;
      int suffix;
    };
    std::vector<Step> steps_;  // from below the root; empty at the root
  };

  struct Match {
    std::size_t command = 0;
    std::vector<int> suffixes;  // one for each <...> of the pattern, 1 where none was typed
  };

  HeaderTree();
  HeaderTree(HeaderTree&&) noexcept;
  HeaderTree& operator=(HeaderTree&&) noexcept;
  ~HeaderTree();

  // A pattern ends with '?' for a query. Numbers: <n> is 1 upward, <1-4> is bounded. Optional nodes in brackets. Common
  // commands begin with '*'. Throws base::Error(defect) for a pattern that cannot be or that is there already.
  void add(std::string_view pattern, std::size_t command);

  // Throws CommandError -113 (no such header), -114 (suffix out of range). Moves the path on.
  Match find(const ProgramUnit& unit, Path& path) const;

 private:
  struct Search;
  struct Common {
    std::string word;
    bool query;
    std::size_t command;
  };

  void set(Node& node, bool query, std::size_t command, const std::vector<const Node*>& chain,
           std::string_view pattern);

  std::unique_ptr<Node> root_;
  std::vector<Common> common_;
};

}  // namespace eyelevel::scpi
