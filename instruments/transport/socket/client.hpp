// SPDX-License-Identifier: Apache-2.0
// The client of the raw socket transport (TCP, messages end with NL; port 5025 by habit). A device clear is impossible
// in-band: clear() closes and connects anew. Where the instrument offers a control connection, wait_for_service() uses
// it and clear() sends its DCL first. Large blocks go from the socket straight into the caller's buffer.
#pragma once

#include <memory>

#include "core/base/task.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::socket {

// Throws TransportError(no_connection) that says which step failed: the name or the connection.
task<std::unique_ptr<Link>> connect(ResourceName name);

}  // namespace eyelevel::transport::socket
