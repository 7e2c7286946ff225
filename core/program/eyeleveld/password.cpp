// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/password.hpp"

#include <fmt/format.h>
#include <termios.h>
#include <unistd.h>

#include <iostream>

#include "core/base/error.hpp"
#include "core/program/output.hpp"

namespace eyelevel::program {
namespace {

// What is typed is not shown, until the end of this.
class Unseen {
 public:
  Unseen() {
    ::tcgetattr(STDIN_FILENO, &before_);
    termios unseen = before_;
    unseen.c_lflag &= ~static_cast<tcflag_t>(ECHO);
    ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &unseen);
  }
  Unseen(const Unseen&) = delete;
  Unseen& operator=(const Unseen&) = delete;
  ~Unseen() { ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &before_); }

 private:
  termios before_{};
};

std::string line() {
  std::string text;
  if (!std::getline(std::cin, text))
    throw base::Error(base::ErrorCode::bad_input, "no password was given", "type one, or send it as one line");
  return text;
}

}  // namespace

std::string ask_password(const std::string& user) {
  if (::isatty(STDIN_FILENO) == 0) return line();
  const Unseen unseen;
  put(stderr, fmt::format("Password of {}: ", user));
  const auto password = line();
  put(stderr, "\nThe same again: ");
  const auto again = line();
  put(stderr, "\n");
  if (password != again)
    throw base::Error(base::ErrorCode::bad_input, "the two differ; nothing was changed", "type it anew");
  return password;
}

}  // namespace eyelevel::program
