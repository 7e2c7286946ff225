// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/error.hpp"

#include <boost/asio/error.hpp>
#include <boost/system/system_error.hpp>
#include <catch2/catch.hpp>

using namespace eyelevel;
using namespace eyelevel::transport;

namespace {

base::ErrorRecord record_of(const boost::system::error_code& error, bool connecting) {
  try {
    fail_with(error, connecting, "TCPIP0::192.0.2.1::5025::SOCKET", "while reading");
  } catch (const base::Error& thrown) {
    return thrown.record();
  }
}

}  // namespace

TEST_CASE("transport errors: a system call's error becomes a sentence with the resource", "[transport]") {
  const auto refused = record_of(boost::asio::error::connection_refused, true);
  CHECK(refused.code == base::ErrorCode::no_connection);
  CHECK(refused.where == "TCPIP0::192.0.2.1::5025::SOCKET");
  CHECK(refused.message == "while reading: Connection refused");
  CHECK_FALSE(refused.advice.empty());
  const auto closed = record_of(boost::asio::error::eof, false);
  CHECK(closed.code == base::ErrorCode::connection_lost);
  CHECK(closed.message == "while reading: the instrument closed the connection");
}

TEST_CASE("transport errors: a cancellation is nobody's failure", "[transport]") {
  CHECK_THROWS_AS(record_of(boost::asio::error::operation_aborted, false), boost::system::system_error);
}
