// SPDX-License-Identifier: Apache-2.0
// The transports' one exception type; what a system call says becomes a sentence here, never a bare errno.
#pragma once

#include <string>
#include <string_view>

#include "core/base/error.hpp"

namespace boost::system {
class error_code;
}

namespace eyelevel::transport {

class TransportError : public base::Error {
 public:
  using base::Error::Error;
};

// Builds the record; `where` is the resource name.
[[noreturn]] void fail(base::ErrorCode code, std::string_view where, std::string message, std::string advice);

// Translates the error of a system call into connection_lost (or no_connection while connecting) and throws it;
// a cancelled operation is rethrown as system_error(operation_aborted), because it is nobody's failure.
[[noreturn]] void fail_with(const boost::system::error_code& error, bool connecting, std::string_view where,
                            std::string_view what);

}  // namespace eyelevel::transport
