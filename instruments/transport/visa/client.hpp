// SPDX-License-Identifier: Apache-2.0
// The client half of what an installed VISA library carries (library.hpp): GPIB. END ends a message (IEEE 488.2, 7.5).
// The library's calls block and cannot be called off, so they run on threads beside the loop, in slices of a fraction
// of a second between which a read that nobody waits for any more ends. One call at a time for an instrument.
#pragma once

#include <boost/asio/thread_pool.hpp>

#include <memory>
#include <string>
#include <utility>

#include "core/base/task.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/visa/library.hpp"

namespace eyelevel::transport::visa {

// One for all links of a program: which library, and the threads for its calls. It is loaded when a link is opened.
class Visa {
 public:
  explicit Visa(std::string file) : file_(std::move(file)) {}

  const std::string& file() const { return file_; }
  boost::asio::thread_pool& worker() { return worker_; }

 private:
  std::string file_;
  boost::asio::thread_pool worker_{16};  // calls that may block at once
};

// Throws TransportError(no_connection): there is no such library, or it does not find the instrument.
task<std::unique_ptr<Link>> connect(std::shared_ptr<Visa> visa, ResourceName name);

}  // namespace eyelevel::transport::visa
