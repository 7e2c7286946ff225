// SPDX-License-Identifier: Apache-2.0
// Runs a coroutine of a test in simulated time, or on the wall clock for real sockets.
#pragma once

#include <boost/asio/io_context.hpp>

#include <functional>
#include <memory>

#include "core/base/timeline.hpp"

namespace eyelevel::test {

struct Simulated {
  boost::asio::io_context loop;
  std::unique_ptr<base::Timeline> timeline = base::simulated_timeline(loop);
  void run(task<> main) { timeline->run(std::move(main)); }
};

struct Wall {
  boost::asio::io_context loop;
  std::unique_ptr<base::Timeline> timeline = base::wall_timeline(loop);
  void run(task<> main) { timeline->run(std::move(main)); }
};

}  // namespace eyelevel::test
