// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/serial/client.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/serial/server.hpp"
#include "instruments/transport/session.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

base::ErrorRecord error_of_line(std::string_view text) {
  try {
    serial::parse_line(text);
  } catch (const base::Error& error) {
    return error.record();
  }
  return {};
}

task<base::ErrorRecord> error_of_opening(std::string resource) {
  base::ErrorRecord record;
  try {
    co_await serial::connect(parse_resource_name(resource));
  } catch (const base::Error& error) {
    record = error.record();
  }
  co_return record;
}

// Answers *IDN? and *STB?, and whatever the script says to the rest.
test::ScriptedDevice::Script standard(std::string identity, test::ScriptedDevice::Script rest) {
  return [identity, rest](std::string_view message, Reply& reply) -> base::Duration {
    if (message == "*IDN?") reply.bytes = identity;
    if (message == "*STB?") reply.bytes = "0";
    return reply.bytes.empty() ? rest(message, reply) : 0h;
  };
}

}  // namespace

TEST_CASE("serial line: settings are read as technicians write them", "[transport]") {
  const auto usual = serial::parse_line("9600");
  CHECK(usual.baud == 9600);
  CHECK(usual.data_bits == 8);
  CHECK(usual.stop_bits == 1);
  CHECK(usual.parity == serial::Parity::none);
  CHECK(usual.flow == serial::FlowControl::none);
  const auto odd = serial::parse_line(" 115200  7O2 hardware");
  CHECK(odd.baud == 115200);
  CHECK(odd.data_bits == 7);
  CHECK(odd.stop_bits == 2);
  CHECK(odd.parity == serial::Parity::odd);
  CHECK(odd.flow == serial::FlowControl::hardware);
  CHECK(serial::parse_line("1200 5E1 software").flow == serial::FlowControl::software);
}

TEST_CASE("serial line: settings that cannot be are told with what would be right", "[transport]") {
  for (const char* wrong : {"", "fast", "9600 8X1", "9600 9N1", "9600 8N3", "9600 8N1 xon", "10", "9600 8N1 none more",
                            "99999999999", "9600 8N", "-9600"}) {
    CAPTURE(wrong);
    const auto record = error_of_line(wrong);
    CHECK(record.code == base::ErrorCode::bad_input);
    CHECK_THAT(record.expected, Catch::Contains("9600 8N1"));
  }
}

TEST_CASE("serial client: a port that is not there, and a file that is no port, are told", "[transport]") {
  test::Wall wall;
  const auto body = []() -> task<> {
    const auto missing = co_await error_of_opening("ASRL/dev/no-such-port::INSTR");
    CHECK(missing.code == base::ErrorCode::no_connection);
    CHECK_THAT(missing.message, Catch::StartsWith("cannot open /dev/no-such-port"));
    const auto no_port = co_await error_of_opening("ASRL/dev/null::INSTR");
    CHECK(no_port.code == base::ErrorCode::no_connection);
    CHECK_THAT(no_port.message, Catch::StartsWith("cannot open /dev/null"));
  };
  wall.run(body());
}

// The line is cleared by two queries whose answers must be told from what an older query answers late.
TEST_CASE("serial client: late answers that look like an identity or a status byte do not end the clearing",
          "[transport]") {
  for (const char* late : {"7", "a,b,c,d", "a,b,c,d\n7;x", "#15\n\n\n\n\n", "12,13,14,15\n16,17"}) {
    CAPTURE(late);
    test::Wall wall;
    const std::string answer = late;
    auto device = std::make_shared<test::ScriptedDevice>(
        *wall.timeline, standard("Eyelevel,Tested,0,1.0", [answer](std::string_view message, Reply& reply) {
          reply.bytes = message == "late?" ? answer : "answer to " + std::string(message);
          return base::Duration(message == "late?" ? 60ms : 0ms);
        }));
    const auto body = [](base::Timeline& timeline, std::shared_ptr<Device> served) -> task<> {
      const test::TemporaryFolder folder;
      const serial::SerialServer server(co_await boost::asio::this_coro::executor, served, folder.path() / "line");
      Session session(timeline, co_await serial::connect(parse_resource_name(server.resource_name())));
      bool timed_out = false;
      try {
        co_await session.query("late?", 20ms);
      } catch (const base::Error& error) {
        timed_out = error.record().code == base::ErrorCode::time_out;
      }
      CHECK(timed_out);
      CHECK(co_await session.query("next?", 10s) == "answer to next?");
      CHECK(co_await session.query("again?", 10s) == "answer to again?");
    };
    wall.run(body(*wall.timeline, device));
  }
}
