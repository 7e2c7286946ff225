// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/simulated_pipe.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

TEST_CASE("usbtmc simulated pipe: reads wait, are cancelled, and end with `gone` when the pipe is closed", "[usbtmc]") {
  test::SimulatedPort port;
  auto body = [](test::SimulatedPort& p) -> task<> {
    const auto pipe = co_await p.open()();
    std::string into(512, '\0');
    auto read = [](std::shared_ptr<Pipe> from, std::string& bytes, Trouble& trouble) -> task<> {
      trouble = (co_await from->bulk_in(bytes)).trouble;
    };
    Trouble trouble = Trouble::none;
    CHECK_FALSE(co_await base::finished_within(*p.sim.timeline, 1s, read(pipe, into, trouble)));
    auto close_later = [](base::Timeline& timeline, std::shared_ptr<Pipe> which) -> task<> {
      co_await timeline.sleep(1s);
      which->close();
    };
    boost::asio::co_spawn(p.sim.loop, close_later(*p.sim.timeline, pipe), boost::asio::detached);
    CHECK(co_await base::finished_within(*p.sim.timeline, 5s, read(pipe, into, trouble)));
    CHECK(trouble == Trouble::gone);
    CHECK((co_await pipe->bulk_out("x")).trouble == Trouble::gone);
    CHECK((co_await pipe->clear_halt(1)).trouble == Trouble::gone);
    CHECK((co_await pipe->reset()).trouble == Trouble::gone);
  };
  port.sim.run(body(port));
}

TEST_CASE("usbtmc simulated pipe: a read that is cancelled takes nothing of what comes before it wakes", "[usbtmc]") {
  test::SimulatedPort port;
  auto body = [](test::SimulatedPort& p) -> task<> {
    const auto pipe = co_await p.open()();
    std::string request;
    append_message_out(request, 1, "*IDN?", true);
    CHECK((co_await pipe->bulk_out(request)).trouble == Trouble::none);
    std::string lost(512, '\0');
    auto read = [](std::shared_ptr<Pipe> from, std::string& bytes) -> task<Moved> {
      co_return co_await from->bulk_in(bytes);
    };
    boost::asio::cancellation_signal cancel;
    bool cancelled = false;
    boost::asio::co_spawn(
        p.sim.loop, read(pipe, lost),
        boost::asio::bind_cancellation_slot(
            cancel.slot(), [&](const std::exception_ptr& error, const Moved&) { cancelled = error != nullptr; }));
    co_await p.sim.timeline->sleep(1s);

    cancel.emit(boost::asio::cancellation_type::terminal);
    request.clear();
    append_request_in(request, 2, 400);
    CHECK((co_await pipe->bulk_out(request)).trouble == Trouble::none);
    co_await p.sim.timeline->sleep(1s);

    CHECK(cancelled);
    std::string into(512, '\0');
    const auto moved = co_await base::result_within(*p.sim.timeline, 1s, read(pipe, into));
    REQUIRE(moved);
    REQUIRE(moved->bytes > header_bytes);
    CHECK(into.substr(header_bytes, 15) == "answer to *IDN?");
  };
  port.sim.run(body(port));
}

TEST_CASE("usbtmc simulated pipe: a class request with more answer than room is an overflow", "[usbtmc]") {
  test::SimulatedPort port;
  auto body = [](test::SimulatedPort& p) -> task<> {
    const auto pipe = co_await p.open()();
    p.now().control = [](Request, const Setup&) { return ControlReply{Handshake::ack, std::string(9, 'x')}; };
    std::string into(8, '\0');
    CHECK((co_await pipe->control(setup_of(Request::initiate_clear, 0, 0), into)).trouble == Trouble::overflow);
  };
  port.sim.run(body(port));
}
