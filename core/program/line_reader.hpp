// SPDX-License-Identifier: Apache-2.0
// Lines that somebody types, with editing, a history and completion where standard input is a terminal; else as they
// come. Blocks while it waits. One at a time in a process: the library behind it has one terminal.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace eyelevel::program {

class LineReader {
 public:
  // What a line may become, each with one word more.
  using Completions = std::function<std::vector<std::string>(std::string_view typed)>;

  explicit LineReader(Completions completions);

  // Without its end; empty at the end of the input. The prompt is shown on a terminal only.
  std::optional<std::string> next(const std::string& prompt);
  bool is_terminal() const { return terminal_; }

 private:
  bool terminal_;
};

}  // namespace eyelevel::program
