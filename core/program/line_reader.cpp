// SPDX-License-Identifier: Apache-2.0
#include "core/program/line_reader.hpp"

#include <editline/readline.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <iostream>
#include <memory>
#include <utility>

namespace eyelevel::program {
namespace {

// The library calls back without an argument for its caller.
LineReader::Completions& completions_now() {
  static LineReader::Completions completions;
  return completions;
}

// A null-terminated list that the library frees; its first entry is what all the others begin with.
char** complete(const char* /*word*/, int /*begin*/, int end) {
  rl_attempted_completion_over = 1;  // no file names
  const auto lines = completions_now()(std::string_view(rl_line_buffer, static_cast<std::size_t>(end)));
  if (lines.empty()) return nullptr;
  std::string common = lines.front();
  for (const std::string& line : lines) {
    std::size_t same = 0;
    while (same < common.size() && same < line.size() && common[same] == line[same]) ++same;
    common.resize(same);
  }
  if (common.size() < static_cast<std::size_t>(end)) common.assign(rl_line_buffer, static_cast<std::size_t>(end));
  auto** list = static_cast<char**>(std::calloc(lines.size() + 2, sizeof(char*)));
  if (list == nullptr) return nullptr;
  list[0] = ::strdup(common.c_str());
  if (lines.size() > 1)
    for (std::size_t i = 0; i < lines.size(); ++i) list[i + 1] = ::strdup(lines[i].c_str());
  return list;
}

// Ctrl-D that is typed while no line is read stands in the input as NUL once one is (termios(3), ICANON), which the
// library would take for "the next key as it is".
int next_key(FILE* /*input*/) {
  constexpr char end_of_input = 4;
  char key = 0;
  ssize_t count = 0;
  do {
    count = ::read(STDIN_FILENO, &key, 1);
  } while (count < 0 && errno == EINTR);
  if (count != 1) return EOF;
  return static_cast<unsigned char>(key == 0 ? end_of_input : key);
}

}  // namespace

LineReader::LineReader(Completions completions)
    : terminal_(::isatty(STDIN_FILENO) == 1 && ::isatty(STDOUT_FILENO) == 1) {
  if (!terminal_) return;
  completions_now() = std::move(completions);
  rl_readline_name = "eyelevel";
  rl_attempted_completion_function = complete;
  rl_completion_append_character = '\0';
  static char no_breaks[] = "";  // a header is completed with the whole line before it
  rl_completer_word_break_characters = no_breaks;
  rl_basic_word_break_characters = no_breaks;
  rl_getc_function = next_key;  // before anything that initializes the library
  using_history();
}

std::optional<std::string> LineReader::next(const std::string& prompt) {
  if (!terminal_) {
    std::string line;
    if (!std::getline(std::cin, line)) return std::nullopt;
    return line;
  }
  const std::unique_ptr<char, decltype(&std::free)> typed(readline(prompt.c_str()), &std::free);
  if (!typed) return std::nullopt;
  std::string line = typed.get();
  if (!line.empty()) add_history(line.c_str());
  return line;
}

}  // namespace eyelevel::program
