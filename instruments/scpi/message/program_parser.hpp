// SPDX-License-Identifier: Apache-2.0
// Takes a program message apart into its units (IEEE 488.2 chapter 7): headers as typed and parameters. Which command a
// header means is header_tree.hpp's business. Views point into the message, which must outlive them. Syntax errors are
// CommandError with the standard number; what follows them in the message is not looked at.
#pragma once

#include <string_view>
#include <vector>

#include "instruments/scpi/message/parameter.hpp"

namespace eyelevel::scpi {

struct Mnemonic {
  std::string_view word;  // without the numeric suffix, as typed
  int suffix = -1;        // -1: none typed; at most 999 999
};

struct ProgramUnit {
  bool common = false;     // *AAA; its word is mnemonics[0]
  bool from_root = false;  // a leading colon
  bool query = false;
  std::vector<Mnemonic> mnemonics;
  std::vector<Parameter> parameters;
};

class ProgramParser {
 public:
  // Without its terminator; a CR or NL at the end is white space.
  explicit ProgramParser(std::string_view message) : message_(message) {}

  // The next unit into `unit` (reused); false at the end. Empty units between semicolons are passed over.
  bool next(ProgramUnit& unit);

 private:
  void header(ProgramUnit& unit);
  void parameters(ProgramUnit& unit);
  Parameter parameter();
  Parameter quoted();
  Parameter hashed();
  Parameter expression();
  Parameter decimal();
  void skip_space();
  char peek() const { return at_ < message_.size() ? message_[at_] : '\0'; }
  bool more() const { return at_ < message_.size(); }

  std::string_view message_;
  std::size_t at_ = 0;
};

}  // namespace eyelevel::scpi
