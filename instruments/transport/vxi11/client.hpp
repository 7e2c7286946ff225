// SPDX-License-Identifier: Apache-2.0
// The client of VXI-11 rev 1.0. The port of the core channel comes from the instrument's portmapper. A late answer is
// known by its transaction id; clear() ends the call under way over the abort channel and then clears the device, and
// opens a new connection where the old one does not answer. Requests for service come over a channel that the
// instrument opens to a port of ours, from the first wait_for_service() on. Locks are exclusive only.
#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "core/base/task.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::vxi11 {

struct Options {
  std::uint16_t portmapper_port = 111;  // every instrument has its portmapper there; tests have not
  // What the instrument is told; when it gives up, it is asked again: the deadline is the caller's.
  std::uint32_t io_timeout_ms = 60000;
  std::uint32_t request_bytes = std::uint32_t{1} << 20U;  // of one device_read, and the most of one device_write
  // Tells while opening what is waited for: "the portmapper on port 111".
  std::shared_ptr<std::string> step;
};

// Throws TransportError(no_connection) that says which step failed: the name, the portmapper, the core channel, the
// link.
task<std::unique_ptr<Link>> connect(ResourceName name, Options options = {});

}  // namespace eyelevel::transport::vxi11
