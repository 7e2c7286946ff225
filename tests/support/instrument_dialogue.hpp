// SPDX-License-Identifier: Apache-2.0
// A dialogue with a simulated instrument in simulated time, without a transport between.
#pragma once

#include <string>
#include <string_view>

#include "instruments/transport/device.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {

class Dialogue {
 public:
  Dialogue(Simulated& sim, transport::Device& device) : sim_(sim), device_(device) {}

  // Sends a program message and gives the response; empty when there is none.
  std::string operator()(std::string_view message) {
    reply.reset();
    sim_.run(device_.execute(message, reply));
    return reply.bytes;
  }
  void pass(base::Duration time) { sim_.run(sim_.timeline->sleep(time)); }
  // The number of the oldest error, 0 for none.
  int error() { return std::stoi((*this)("SYST:ERR?")); }

  transport::Reply reply;

 private:
  Simulated& sim_;
  transport::Device& device_;
};

}  // namespace eyelevel::test
