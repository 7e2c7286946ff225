// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/error.hpp"

#include <fmt/format.h>

#include <boost/asio/error.hpp>
#include <boost/system/system_error.hpp>

namespace eyelevel::transport {

void fail(base::ErrorCode code, std::string_view where, std::string message, std::string advice) {
  base::ErrorRecord record;
  record.code = code;
  record.where = std::string(where);
  record.message = std::move(message);
  record.advice = std::move(advice);
  throw TransportError(std::move(record));
}

void fail_with(const boost::system::error_code& error, bool connecting, std::string_view where, std::string_view what) {
  if (error == boost::asio::error::operation_aborted) throw boost::system::system_error(error);
  if (connecting)
    fail(base::ErrorCode::no_connection, where, fmt::format("{}: {}", what, error.message()),
         "is the instrument switched on and on this network, and is its socket service enabled on this port?");
  if (error == boost::asio::error::eof)
    fail(base::ErrorCode::connection_lost, where, fmt::format("{}: the instrument closed the connection", what),
         "look whether the instrument restarted or another program took it");
  fail(base::ErrorCode::connection_lost, where, fmt::format("{}: {}", what, error.message()),
       "check the network cable and the instrument's power");
}

}  // namespace eyelevel::transport
