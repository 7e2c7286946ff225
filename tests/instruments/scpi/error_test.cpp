// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/error.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::scpi;

TEST_CASE("error numbers: each has the text of the standard list", "[scpi]") {
  // SCPI-99 Vol. 2, 21.8; one row from each part of the table.
  CHECK(standard_text(0) == "No error");
  CHECK(standard_text(-101) == "Invalid character");
  CHECK(standard_text(-113) == "Undefined header");
  CHECK(standard_text(-178) == "Expression data not allowed");
  CHECK(standard_text(-222) == "Data out of range");
  CHECK(standard_text(-294) == "Incompatible type");
  CHECK(standard_text(-350) == "Queue overflow");
  CHECK(standard_text(-363) == "Input buffer overrun");
  CHECK(standard_text(-440) == "Query UNTERMINATED after indefinite response");
  CHECK(standard_text(-800) == "Operation complete");
}

TEST_CASE("error numbers: one that is not listed takes the text of its class", "[scpi]") {
  CHECK(standard_text(-199) == "Command error");
  CHECK(standard_text(-299) == "Execution error");
  CHECK(standard_text(17) == "Device-specific error");
  CHECK(standard_text(-32768) == "Device-specific error");
}

TEST_CASE("error numbers: each class sets its bit of the event status register", "[scpi]") {
  // IEEE 488.2, 11.5.1; SCPI-99 Vol. 2, 21.8: -1xx CME, -2xx EXE, -3xx and positive DDE, -4xx QYE, -5xx PON, -6xx URQ,
  // -7xx RQC, -8xx OPC.
  const std::pair<int, int> rows[] = {{-113, 32},  {-222, 16}, {-310, 8}, {5, 8},    {-410, 4},
                                      {-500, 128}, {-600, 64}, {-700, 2}, {-800, 1}, {0, 0}};
  for (const auto& [number, bit] : rows) {
    CAPTURE(number);
    CHECK(int{event_status_bit(number)} == bit);
  }
}

TEST_CASE("command errors: the text reads as the queue will answer it", "[scpi]") {
  CHECK(std::string(CommandError(-113).what()) == "-113,\"Undefined header\"");
  CHECK(std::string(CommandError(-113, "VOLTA").what()) == "-113,\"Undefined header;VOLTA\"");
}
