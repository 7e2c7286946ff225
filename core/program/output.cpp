// SPDX-License-Identifier: Apache-2.0
#include "core/program/output.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>

#include "core/program/eyelevel/command.hpp"

namespace eyelevel::program {

void hold_standard_streams() {
  for (const int number : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) {
    if (::fcntl(number, F_GETFD) != -1 || errno != EBADF) continue;
    // The lowest free number is this one. Opened the other way round, every use of it is an error.
    if (::open("/dev/null", number == STDIN_FILENO ? O_WRONLY : O_RDONLY) != number) return;
  }
}

void put(std::FILE* out, std::string_view text) noexcept {
  std::fwrite(text.data(), 1, text.size(), out);
  std::fflush(out);
}

bool is_output_lost() { return std::ferror(stdout) != 0; }

int status_after_output(int status) {
  errno = 0;
  const bool flushed = std::fflush(stdout) == 0;
  const int number = errno;
  if (flushed && !is_output_lost()) return status;
  const std::string why = number == 0 ? std::string() : ": " + std::generic_category().message(number);
  put(stderr, fmt::format("eyelevel: not all of the output could be written{}\n", why));
  return status == all_met || status == not_met ? not_finished : status;
}

}  // namespace eyelevel::program
