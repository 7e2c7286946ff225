// SPDX-License-Identifier: Apache-2.0
// The Interrupt-IN endpoint of one open interface: a read is always pending, and what comes is sorted into service
// requests and answers of READ_STATUS_BYTE by its tag (USB488 3.4). Without such an endpoint nothing is watched.
#pragma once

#include <cstdint>
#include <memory>

#include "core/base/task.hpp"
#include "instruments/transport/usbtmc/pipe.hpp"

namespace eyelevel::transport::usbtmc {

class Interrupts {
 public:
  Interrupts();
  Interrupts(const Interrupts&) = delete;
  Interrupts& operator=(const Interrupts&) = delete;
  ~Interrupts();

  // Ends the watch of the pipe before, if there was one.
  task<> watch(std::shared_ptr<Pipe> pipe);
  void end() noexcept;

  // Returns at once when one came since the last call; false when no more can come, because the watch has ended.
  task<bool> wait_for_service();
  // A service request took RQS out of the status byte when it was sent; the next poll shows it once more.
  std::uint8_t take_rqs();
  void expect(std::uint8_t tag);
  // The answer with this tag; 256 when no more can come.
  task<int> status(std::uint8_t tag);

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::transport::usbtmc
