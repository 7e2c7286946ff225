// SPDX-License-Identifier: Apache-2.0
// The client half of the memory transport, and the template for whoever adds a transport: the smallest link that keeps
// the whole contract of link.hpp. Messages are handed over whole, in the order written; the buffers circulate between
// the two sides, nothing is copied. The link must be gone before its loop is.
#pragma once

#include <memory>

#include "core/base/task.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/link.hpp"

namespace eyelevel::transport::memory {

// Connects to a device. Runs on the caller's executor.
task<std::unique_ptr<Link>> connect(std::shared_ptr<Device> device, std::string resource_name);

}  // namespace eyelevel::transport::memory
