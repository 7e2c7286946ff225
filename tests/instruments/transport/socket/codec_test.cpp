// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/codec.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::transport::socket;

namespace {

constexpr std::size_t limit = 1 << 20;

// Fed byte by byte and at once, both must find the same.
std::string first_message(Direction direction, const std::string& bytes) {
  Framer whole(direction, limit);
  const auto at_once = whole.scan(bytes);
  Framer piecewise(direction, limit);
  Framer::Found found;
  for (std::size_t length = 0; length <= bytes.size(); ++length) {
    found = piecewise.scan(std::string_view(bytes).substr(0, length));
    if (found.complete || !found.fault.empty()) break;
  }
  CHECK(found.complete == at_once.complete);
  CHECK(found.message_bytes == at_once.message_bytes);
  CHECK(found.consumed == at_once.consumed);
  CHECK(found.fault.empty() == at_once.fault.empty());
  if (!at_once.fault.empty()) return "fault: " + at_once.fault;
  return at_once.complete ? bytes.substr(0, at_once.message_bytes) : "incomplete";
}

}  // namespace

TEST_CASE("socket framing: a message ends at NL or CR NL", "[transport]") {
  CHECK(first_message(Direction::response, "1.5\nrest") == "1.5");
  CHECK(first_message(Direction::response, "1.5\r\nrest") == "1.5");
  CHECK(first_message(Direction::response, "\n") == "");
  CHECK(first_message(Direction::response, "1.5") == "incomplete");
  CHECK(first_message(Direction::program, "*IDN?\n") == "*IDN?");
}

TEST_CASE("socket framing: NL, CR and quotes inside a block end nothing", "[transport]") {
  CHECK(first_message(Direction::response, "#15a\n\"\r\n\n") == "#15a\n\"\r\n");
  CHECK(first_message(Direction::response, "#11\r\n") == "#11\r");
  CHECK(first_message(Direction::response, "#11a\r\n") == "#11a");
  CHECK(first_message(Direction::response, "1,#12\n\n,2;#11\n\n") == "1,#12\n\n,2;#11\n");
  CHECK(first_message(Direction::program, "TRAC:DATA A, #14\n\n\n\n\nX") == "TRAC:DATA A, #14\n\n\n\n");
  CHECK(first_message(Direction::program, "A #12\n\n;B\n") == "A #12\n\n;B");
}

TEST_CASE("socket framing: a # that begins no block is text", "[transport]") {
  CHECK(first_message(Direction::response, "serial #15x\nrest") == "serial #15x");
  CHECK(first_message(Direction::response, "#HFF\n") == "#HFF");
  CHECK(first_message(Direction::program, "A \"number #19\"\nB") == "A \"number #19\"");
  CHECK(first_message(Direction::program, "A #HFF\nB") == "A #HFF");
  CHECK(first_message(Direction::program, "A \"open\nB") == "A \"open");
}

TEST_CASE("socket framing: what can never become a message is told with the reason", "[transport]") {
  CHECK_THAT(first_message(Direction::response, "#0abc\n"),
             Catch::StartsWith("fault: the indefinite block (#0) at byte 1"));
  CHECK_THAT(first_message(Direction::response, "#12abX\n"), Catch::StartsWith("fault: byte 6 should end the block"));
  CHECK_THAT(first_message(Direction::response, "#9999999999"),
             Catch::StartsWith("fault: the block at byte 1 announces 999999999 bytes"));
  CHECK_THAT(first_message(Direction::response, std::string(limit + 1, 'x')),
             Catch::StartsWith("fault: no end within"));
}

TEST_CASE("socket framing: how many bytes are still missing is known inside a block", "[transport]") {
  Framer framer(Direction::response, limit);
  CHECK(framer.scan("#41000abc").missing == 998);
  CHECK(framer.scan("#41000abc").missing == 998);
  Framer text(Direction::response, limit);
  CHECK(text.scan("1.5").missing == 0);
}
