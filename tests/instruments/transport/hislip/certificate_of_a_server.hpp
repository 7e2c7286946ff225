// SPDX-License-Identifier: Apache-2.0
// A certificate for tests of encrypted connections, made once.
#pragma once

#include <chrono>
#include <string>

#include "core/base/certificate.hpp"
#include "instruments/transport/hislip/security.hpp"

namespace eyelevel::test {

inline const base::Certificate& certificate() {
  static const auto made = base::make_certificate(
      {"127.0.0.1"}, std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now()), 30);
  return made;
}

inline transport::hislip::Security security(bool mandatory, transport::hislip::Login login = {}) {
  return {certificate().certificate_pem, certificate().key_pem, mandatory, std::move(login)};
}

inline std::string fingerprint() { return base::fingerprint_of(certificate().certificate_pem); }

}  // namespace eyelevel::test
