// SPDX-License-Identifier: Apache-2.0
// Certificates of our own making, for a TLS server that nobody has given one: self-signed (RFC 5280), an elliptic-curve
// key (P-256), so that whoever connects compares a fingerprint once. Throws Error(defect) when the library refuses.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"

namespace eyelevel::base {

struct Certificate {
  std::string certificate_pem;
  std::string key_pem;  // PKCS #8, not encrypted: whoever keeps it keeps it from others
};

// `names`: host names and IP addresses it is good for (subjectAltName, RFC 5280, 4.2.1.6), the first is its subject,
// too. Good from a day before `now`, because clocks differ.
Certificate make_certificate(const std::vector<std::string>& names, UtcTime now, int days);

// SHA-256 of the certificate, "4F:0A:...". Throws Error(bad_input) when the text holds none.
std::string fingerprint_of(std::string_view certificate_pem);

// The end of its time. Throws Error(bad_input) as above.
UtcTime end_of(std::string_view certificate_pem);

}  // namespace eyelevel::base
