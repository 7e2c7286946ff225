// SPDX-License-Identifier: Apache-2.0
// The client of the serial transport: a line whose messages end with NL. A serial line has no device clear and nobody
// tells a late answer from the next one; so clear() asks *IDN? and *STB? and reads until the second answer has come:
// instruments answer in order, so everything older has come, too. An instrument that does not speak IEEE 488.2 cannot
// be cleared, and the error says so. A port that was pulled out is opened anew.
#pragma once

#include <functional>
#include <memory>

#include "core/base/task.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::serial {

enum class Parity { none, odd, even };
enum class FlowControl { none, software, hardware };  // XON/XOFF, RTS/CTS

// VISA's defaults (VPP-4.3, attributes of ASRL).
struct Line {
  unsigned baud = 9600;
  unsigned data_bits = 8;
  unsigned stop_bits = 1;
  Parity parity = Parity::none;
  FlowControl flow = FlowControl::none;
};

// "115200 8N1", "9600 7E2 hardware". Throws base::Error(bad_input) that says what would be right.
Line parse_line(std::string_view text);

// Throws TransportError(no_connection): no such port, no right to it (and how to get it), or settings that it refuses.
task<std::unique_ptr<Link>> connect(ResourceName name, Line line = {});

}  // namespace eyelevel::transport::serial
