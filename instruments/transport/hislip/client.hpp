// SPDX-License-Identifier: Apache-2.0
// The client of the HiSLIP transport (IVI-6.1, versions 1.0 and 2.0; TCP, port 4880 unless the name says otherwise).
// Who gives a certificate's fingerprint gets an encrypted connection to its owner or none, at least for the login.
// clear() is the device clear of 6.12; when the connection is lost, or an exchange was left in the middle of what
// cannot be undone, it connects anew, and locks are lost. Payloads go straight into the caller's buffer.
#pragma once

#include <memory>
#include <string>

#include "core/base/task.hpp"
#include "instruments/transport/hislip/codec.hpp"
#include "instruments/transport/hislip/exchange.hpp"
#include "instruments/transport/hislip/sasl.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::hislip {

struct ClientOptions {
  Mode mode = Mode::synchronised;               // wished; the server has the last word
  std::uint16_t highest_version = version_2_0;  // offered; the server may answer with a lower one
  std::string fingerprint = {};                 // of the instrument's certificate; empty: no encryption
  Login login = {};                             // said on encrypted connections only
  bool encrypt_login_only = false;              // what follows it goes in the clear
};

// Throws TransportError(no_connection) that says which step failed.
task<std::unique_ptr<Link>> connect(ResourceName name, ClientOptions options = {});

}  // namespace eyelevel::transport::hislip
