// SPDX-License-Identifier: Apache-2.0
#include "core/base/error.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::base;

TEST_CASE("error: the text says where, what, what was sent and received, and what to try", "[base]") {
  ErrorRecord r;
  r.code = ErrorCode::time_out;
  r.where = "scope (TCPIP0::192.0.2.10::5025::SOCKET)";
  r.message = "no answer to *OPC? within 2.00 s";
  r.sent = "*OPC?\n";
  r.elapsed_s = 2.0;
  r.advice = "is the disc still turning?";
  Error e(r);
  e.within("lf2.yaml:31:5: step \"capture rf\"");
  CHECK(
      std::string(e.what()) ==
      "lf2.yaml:31:5: step \"capture rf\": scope (TCPIP0::192.0.2.10::5025::SOCKET): no answer to *OPC? within 2.00 s\n"
      "  sent 6 bytes \"*OPC?\\n\"\n"
      "  after 2.00 s\n"
      "  try: is the disc still turning?");
}

TEST_CASE("escaped: control characters are visible and long answers are cut with their true length", "[base]") {
  CHECK(escaped("a\x1b[31m\n") == "a\\x1b[31m\\n");
  CHECK(escaped(std::string(300, 'y')) == std::string(200, 'y') + "... (300 bytes in all)");
}

TEST_CASE("error codes: input, outside and defect are told apart", "[base]") {
  CHECK(kind_of(ErrorCode::bad_input) == ErrorKind::input);
  CHECK(kind_of(ErrorCode::time_out) == ErrorKind::outside);
  CHECK(kind_of(ErrorCode::defect) == ErrorKind::defect);
  CHECK(name_of(ErrorCode::setting_not_taken) == "setting_not_taken");
}

TEST_CASE("legible: an answer keeps its quotes and signs, and cannot move the cursor", "[base]") {
  CHECK(legible("0,\"No error\"") == "0,\"No error\"");
  CHECK(legible("47 k\xD8, 1 \xB5s, 20 \xB0") == "47 k\u00D8, 1 \u00B5s, 20 \u00B0");  // ISO 8859-1
  CHECK(legible("a\tb\n\x1b[2J\x7f\x9b") == "a\tb\\x0a\\x1b[2J\\x7f\\x9b");
}
