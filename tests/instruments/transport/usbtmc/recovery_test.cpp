// SPDX-License-Identifier: Apache-2.0
// The order of the ladder. What it recovers from is in misbehaviour_test.cpp.
#include "instruments/transport/usbtmc/recovery.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

namespace {

// Writes down what the instrument is asked, and answers some of it differently.
struct Protocol {
  std::vector<std::string> lines;

  void keep(test::SimulatedPort& port, std::map<Request, ControlReply> instead = {}) {
    port.now().control = [this, instead](Request request, const Setup&) -> std::optional<ControlReply> {
      lines.emplace_back(name_of(request));
      if (const auto at = instead.find(request); at != instead.end()) return at->second;
      return std::nullopt;
    };
    port.now().clear_halt = [this] {
      lines.emplace_back("CLEAR_FEATURE");
      return Trouble::none;
    };
    port.now().reset = [this] {
      lines.emplace_back("reset");
      return Trouble::none;
    };
  }
};

using Lines = std::vector<std::string>;

}  // namespace

TEST_CASE("usbtmc recovery: after a read that timed out comes abort, then clear, then CLEAR_FEATURE of Bulk-OUT",
          "[usbtmc]") {
  test::SimulatedPort port;
  Protocol protocol;
  auto body = [](test::SimulatedPort& p, Protocol& seen) -> task<> {
    const auto session = co_await p.session();
    seen.keep(p);
    CHECK((co_await test::query(*session, "SLOW? 3600000", 1s)).error);
    CHECK(seen.lines.empty());  // the time-out itself asks nothing
    CHECK(co_await session->query("next?", 5s) == "answer to next?");
    CHECK(seen.lines == Lines{"INITIATE_ABORT_BULK_IN", "CHECK_ABORT_BULK_IN_STATUS", "INITIATE_CLEAR",
                              "CHECK_CLEAR_STATUS", "CLEAR_FEATURE"});
    CHECK(p.device->clears == 1);
    CHECK(p.device->errors.empty());
  };
  port.sim.run(body(port, protocol));
}

TEST_CASE("usbtmc recovery: after a message that was not taken comes the abort of Bulk-OUT", "[usbtmc]") {
  test::SimulatedPort port;
  Protocol protocol;
  auto body = [](test::SimulatedPort& p, Protocol& seen) -> task<> {
    const auto session = co_await p.session();
    seen.keep(p);
    p.now().bulk_out = [](std::string_view) { return Handshake::nak; };
    CHECK((co_await test::query(*session, "first?", 1s)).error);
    p.now().bulk_out = nullptr;
    CHECK(co_await session->query("next?", 5s) == "answer to next?");
    CHECK(seen.lines == Lines{"INITIATE_ABORT_BULK_OUT", "CHECK_ABORT_BULK_OUT_STATUS", "CLEAR_FEATURE",
                              "INITIATE_CLEAR", "CHECK_CLEAR_STATUS", "CLEAR_FEATURE"});
    CHECK(p.device->messages == Lines{"next?"});
  };
  port.sim.run(body(port, protocol));
}

TEST_CASE("usbtmc recovery: a short deadline is kept, and the next attempt begins one rung higher", "[usbtmc]") {
  test::SimulatedPort port;
  Protocol protocol;
  auto body = [](test::SimulatedPort& p, Protocol& seen) -> task<> {
    const auto session = co_await p.session();
    const ControlReply silent{Handshake::nak, {}};
    seen.keep(p, {{Request::initiate_abort_bulk_in, silent}, {Request::initiate_clear, silent}});
    CHECK((co_await test::query(*session, "SLOW? 3600000", 500ms)).error);
    std::vector<std::string> says;
    for (int i = 0; i < 4; ++i) {
      const auto begun = p.sim.timeline->now();
      const auto outcome = co_await test::query(*session, "next?", 500ms);
      CHECK(p.sim.timeline->now() - begun <= 500ms);
      REQUIRE(outcome.error);
      says.push_back(outcome.error->message);
    }
    CHECK_THAT(says[0], Catch::Contains("could not be cleared within 0.50 s"));  // abort
    CHECK_THAT(says[2], Catch::Contains("could not be cleared within 0.50 s"));  // CLEAR_FEATURE and clear
    CHECK_THAT(says[3], Catch::Contains("USB port was reset"));
    p.now().control = nullptr;
    CHECK(co_await session->query("next?", 1s) == "answer to next?");
  };
  port.sim.run(body(port, protocol));
}

TEST_CASE("usbtmc recovery: after a reset REN is asserted again and the interface is asked again", "[usbtmc]") {
  test::SimulatedPort port;
  Protocol protocol;
  auto body = [](test::SimulatedPort& p, Protocol& seen) -> task<> {
    const auto session = co_await p.session();
    seen.keep(p, {{Request::initiate_clear, {Handshake::stall, {}}}});
    CHECK((co_await test::query(*session, "SLOW? 3600000", 1s)).error);
    const auto reset = co_await test::query(*session, "next?", 20s);
    REQUIRE(reset.error);
    CHECK_THAT(reset.error->cause, Catch::Contains("INITIATE_CLEAR: halted (STALL)"));
    CHECK(session->dirty());
    seen.lines.clear();
    seen.keep(p);
    CHECK(co_await session->query("next?", 20s) == "answer to next?");
    CHECK(seen.lines ==
          Lines{"INITIATE_CLEAR", "CHECK_CLEAR_STATUS", "CLEAR_FEATURE", "GET_CAPABILITIES", "REN_CONTROL"});
    CHECK(int{co_await session->status_byte(1s)} == 4);  // Interrupt-IN is watched again
  };
  port.sim.run(body(port, protocol));
}

TEST_CASE("usbtmc recovery: an instrument that comes back late after its reset is waited for, but not for ever",
          "[usbtmc]") {
  for (const bool comes_back : {true, false}) {
    CAPTURE(comes_back);
    test::SimulatedPort port;
    auto body = [](test::SimulatedPort& p, bool back) -> task<> {
      const auto session = co_await p.session();
      p.now().control = [](Request request, const Setup&) -> std::optional<ControlReply> {
        if (request == Request::initiate_clear) return ControlReply{Handshake::stall, {}};
        return std::nullopt;
      };
      p.now().reset = [&p] {
        p.is_plugged_in = false;
        p.server->unplug();
        return Trouble::gone;
      };
      CHECK((co_await test::query(*session, "SLOW? 3600000", 1s)).error);
      auto plug_in = [](test::SimulatedPort& which, bool really) -> task<> {
        co_await which.sim.timeline->sleep(3s);
        which.is_plugged_in = really;
      };
      boost::asio::co_spawn(p.sim.loop, plug_in(p, back), boost::asio::detached);
      const auto reset = co_await test::query(*session, "next?", 30s);
      REQUIRE(reset.error);
      CHECK(reset.error->code == (back ? base::ErrorCode::connection_lost : base::ErrorCode::no_connection));
      if (back) CHECK(co_await session->query("next?", 5s) == "answer to next?");
    };
    port.sim.run(body(port, comes_back));
  }
}
