// SPDX-License-Identifier: Apache-2.0
// The person at the bench, or the simulated one.
#pragma once

#include <string>

#include "core/base/timeline.hpp"

namespace eyelevel::bench {

struct Answer {
  std::string text;  // "done", or what was typed
  std::string by;    // who answered
};

class Operator {
 public:
  virtual ~Operator() = default;
  // Shows the text and waits for the answer. Cancelled by the caller when the time is up.
  virtual task<Answer> ask(const std::string& text) = 0;
};

}  // namespace eyelevel::bench
