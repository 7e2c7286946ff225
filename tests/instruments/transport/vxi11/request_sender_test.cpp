// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/request_sender.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/record_stream.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;
namespace asio = boost::asio;
using asio::ip::tcp;

TEST_CASE(
    "request sender: calls device_intr_srq with the handle, equal ones that wait are one; the client's end is seen",
    "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto executor = co_await asio::this_coro::executor;
    tcp::acceptor acceptor(executor, tcp::endpoint(asio::ip::make_address("127.0.0.1"), 0));
    const auto sender = std::make_shared<RequestSender>(executor);
    REQUIRE(co_await sender->connect(acceptor.local_endpoint(), 0x20001234, 3));
    RecordStream client(co_await acceptor.async_accept(asio::use_awaitable), 1000);
    sender->post("b");
    sender->post("a");
    sender->post("b");
    for (const char* expected : {"a", "b"}) {
      std::string record;
      co_await client.next_record();
      co_await client.read_rest(record);
      const auto found = read_call(record);
      REQUIRE(found.is_call);
      CHECK(found.call.program == 0x20001234);
      CHECK(found.call.version == 3);
      CHECK(found.call.procedure == 30);
      XdrReader reader(found.arguments);
      CHECK(reader.opaque("the handle", most_handle_bytes) == expected);
    }
    CHECK(client.write_at_once("what nobody expects here"));
    CHECK(sender->is_open());
    client.close();
    while (sender->is_open()) co_await timeline.sleep(1ms);
    CHECK_FALSE(sender->is_open());
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("request sender: where nobody listens it says so", "[transport]") {
  test::Wall wall;
  auto main = []() -> task<> {
    const auto executor = co_await asio::this_coro::executor;
    tcp::endpoint nobody;
    {
      const tcp::acceptor acceptor(executor, tcp::endpoint(asio::ip::make_address("127.0.0.1"), 0));
      nobody = acceptor.local_endpoint();
    }
    const auto sender = std::make_shared<RequestSender>(executor);
    CHECK_FALSE(co_await sender->connect(nobody, interrupt_program, 1));
    CHECK_FALSE(sender->is_open());
  };
  wall.run(main());
}
