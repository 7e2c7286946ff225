// SPDX-License-Identifier: Apache-2.0
// The client's end of an interrupt channel against instruments that do it right, wrong, or not at all.
#include "instruments/transport/vxi11/request_listener.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/vxi11/raw_client.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;

namespace {

constexpr auto intr_srq = static_cast<std::uint32_t>(Procedure::device_intr_srq);

task<> wait(RequestListener& listener, bool& requested) { requested = co_await listener.wait(); }

task<bool> requested_within(base::Timeline& timeline, RequestListener& listener, base::Duration limit) {
  bool requested = false;
  co_return co_await base::finished_within(timeline, limit, wait(listener, requested)) && requested;
}

task<std::unique_ptr<RequestListener>> listening() {
  co_return std::make_unique<RequestListener>(co_await boost::asio::this_coro::executor,
                                              boost::asio::ip::make_address("127.0.0.1"));
}

}  // namespace

TEST_CASE("request listener: a request is heard once, also one that came before anyone waited", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto listener = co_await listening();
    CHECK_FALSE(co_await requested_within(timeline, *listener, 10ms));
    const auto instrument = co_await test::RawClient::connect(listener->port(), interrupt_program);
    std::string handle;
    append_handle(handle, "link 0");
    co_await instrument->rpc.send(intr_srq, handle);
    CHECK(co_await requested_within(timeline, *listener, 10s));
    CHECK_FALSE(co_await requested_within(timeline, *listener, 10ms));
    co_await instrument->rpc.send(intr_srq, handle);
    co_await instrument->rpc.call(0, "");  // NULL is answered: the request before it has been heard
    CHECK(co_await requested_within(timeline, *listener, 10s));
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("request listener: malformed requests count, nonsense does not, and neither ends the channel",
          "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto listener = co_await listening();
    const auto instrument = co_await test::RawClient::connect(listener->port(), 77, 9);  // a wrong program, too
    for (const std::string& arguments : {std::string(), std::string("\xFF\xFF\xFF\xFF", 4), std::string("ab")}) {
      co_await instrument->rpc.send(intr_srq, arguments);
      CHECK(co_await requested_within(timeline, *listener, 10s));
    }
    instrument->rpc.stream.write_at_once(std::string("\x80\x00\x00\x05hello", 9));
    co_await instrument->rpc.send(99, "");
    co_await instrument->rpc.call(0, "");
    CHECK_FALSE(co_await requested_within(timeline, *listener, 10ms));
    // An instrument that closes the channel after each request and opens it anew.
    for (int i = 0; i < 6; ++i) {
      const auto again = co_await test::RawClient::connect(listener->port(), interrupt_program);
      co_await again->rpc.send(intr_srq, "");
      CHECK(co_await requested_within(timeline, *listener, 10s));
    }
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("request listener: stopping ends the wait without a request", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto listener = co_await listening();
    listener->stop();
    CHECK_FALSE(co_await requested_within(timeline, *listener, 10s));
  };
  wall.run(main(*wall.timeline));
}
