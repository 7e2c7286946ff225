// SPDX-License-Identifier: Apache-2.0
// SIGINT and SIGTERM as a stop token, for work on several threads. While it lives the first signal asks to stop; a
// second one ends the process at once. One per process.
#pragma once

#include <memory>
#include <stop_token>

namespace eyelevel::program {

class Interrupt {
 public:
  Interrupt();
  Interrupt(const Interrupt&) = delete;
  Interrupt& operator=(const Interrupt&) = delete;
  ~Interrupt();

  std::stop_token token() const { return source_.get_token(); }

 private:
  struct Listening;
  std::stop_source source_;
  std::unique_ptr<Listening> listening_;
};

}  // namespace eyelevel::program
