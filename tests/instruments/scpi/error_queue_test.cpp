// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/error_queue.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"

using namespace eyelevel;
using namespace eyelevel::scpi;

TEST_CASE("error queue: first in, first out, then no error", "[scpi]") {
  ErrorQueue queue;
  queue.push(-113, "VOLTA");
  queue.push(-222);
  CHECK(queue.size() == 2);
  CHECK(queue.pop() == QueuedError{-113, "Undefined header;VOLTA"});
  CHECK(queue.pop() == QueuedError{-222, "Data out of range"});
  CHECK(queue.pop() == QueuedError{0, "No error"});
}

TEST_CASE("error queue: when full the newest slot becomes an overflow and later errors are dropped", "[scpi]") {
  // SCPI-99 Vol. 2, 21.8.1: -350 replaces the newest, until a read frees a slot.
  ErrorQueue queue(3);
  CHECK(queue.push(-101) == -101);
  CHECK(queue.push(-102) == -102);
  CHECK(queue.push(-103) == -103);
  CHECK(queue.push(-104) == -350);
  CHECK(queue.push(-105) == 0);
  CHECK(queue.size() == 3);
  CHECK(queue.pop().number == -101);
  CHECK(queue.push(-108) == -108);
  CHECK(queue.pop().number == -102);
  CHECK(queue.pop().number == -350);
  CHECK(queue.pop().number == -108);
  CHECK(queue.empty());
}

TEST_CASE("error queue: a text is never longer than 255 characters", "[scpi]") {
  ErrorQueue queue;
  queue.push(-300, std::string(1000, 'x'));
  CHECK(queue.pop().text.size() == 255);
}

TEST_CASE("error queue: the client reads what the instrument answers", "[scpi]") {
  CHECK(parse_queued_error("-113,\"Undefined header;say \"\"no\"\"\"") ==
        QueuedError{-113, "Undefined header;say \"no\""});
  CHECK(parse_queued_error("+0,\"No error\"\r").number == 0);
  CHECK_THROWS_AS(parse_queued_error("-113"), base::Error);
  CHECK_THROWS_AS(parse_queued_error("99999,\"x\""), base::Error);
  CHECK_THROWS_AS(parse_queued_error(""), base::Error);
}
