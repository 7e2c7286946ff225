// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/serial/server.hpp"

#include <boost/asio/post.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <catch2/catch.hpp>

#include <fstream>

#include "core/base/error.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/serial/client.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

std::shared_ptr<test::ScriptedDevice> echoing(base::Timeline& timeline) {
  return std::make_shared<test::ScriptedDevice>(timeline, [](std::string_view message, Reply& reply) {
    reply.bytes = message;
    return base::Duration(0);
  });
}

}  // namespace

TEST_CASE("serial server: its name opens the line, and stopping takes the name away", "[transport]") {
  test::Wall wall;
  const auto body = [](std::shared_ptr<Device> served) -> task<> {
    const test::TemporaryFolder folder;
    const auto place = folder.path() / "line";
    {
      serial::SerialServer server(co_await boost::asio::this_coro::executor, served, place);
      CHECK(server.resource_name() == "ASRL" + place.string() + "::INSTR");
      const auto link = co_await serial::connect(parse_resource_name(server.resource_name()));
      Buffer answer;
      co_await link->write("hello?");
      co_await link->read(answer);
      CHECK(answer == "hello?");
    }
    while (std::filesystem::is_symlink(place))
      co_await boost::asio::post(co_await boost::asio::this_coro::executor, boost::asio::use_awaitable);
    CHECK_FALSE(std::filesystem::is_symlink(place));
  };
  wall.run(body(echoing(*wall.timeline)));
}

TEST_CASE("serial server: what stands at its place already is left alone and told", "[transport]") {
  test::Wall wall;
  const test::TemporaryFolder folder;
  const auto place = folder.path() / "taken";
  std::ofstream(place) << "mine";
  std::string message;
  try {
    const serial::SerialServer server(wall.loop.get_executor(), echoing(*wall.timeline), place);
  } catch (const base::Error& error) {
    message = error.record().message;
  }
  CHECK_THAT(message, Catch::StartsWith("cannot serve here"));
  CHECK(std::filesystem::file_size(place) == 4);
}
