// SPDX-License-Identifier: Apache-2.0
// What a HiSLIP server needs for encrypted connections.
#pragma once

#include <memory>
#include <string>

#include "instruments/transport/hislip/sasl.hpp"
#include "instruments/transport/hislip/tls.hpp"

namespace eyelevel::transport::hislip {

struct Security {
  std::string certificate_pem;
  std::string key_pem;
  bool mandatory = false;  // else a client may stay in the clear
  Login login = {};        // who may use it once encrypted; no user: anybody

  std::unique_ptr<Tls> begin() const { return Tls::server(certificate_pem, key_pem); }
};

}  // namespace eyelevel::transport::hislip
