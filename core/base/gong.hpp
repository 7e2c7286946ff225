// SPDX-License-Identifier: Apache-2.0
// Any number of coroutines wait until another strikes. A stroke that nobody hears is lost: look at the condition, then
// wait, then look again. One thread.
#pragma once

#include <memory>

#include "core/base/task.hpp"

namespace eyelevel::base {

class Gong {
 public:
  Gong();
  Gong(const Gong&) = delete;
  Gong& operator=(const Gong&) = delete;
  ~Gong();  // wakes whoever waits

  // Returns at the next stroke; throws boost::system::system_error(operation_aborted) on cancellation.
  task<> wait();
  void strike() noexcept;

 private:
  struct Waiting;
  std::shared_ptr<Waiting> waiting_;
};

}  // namespace eyelevel::base
