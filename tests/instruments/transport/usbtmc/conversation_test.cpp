// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/conversation.hpp"

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

TEST_CASE("usbtmc conversation: a packet read outlives whoever waits for it, and its bytes are not lost", "[usbtmc]") {
  test::SimulatedPort port;
  auto body = [](test::SimulatedPort& p) -> task<> {
    const auto pipe = co_await p.open()();
    PacketRead packet;
    auto wait = [](PacketRead& read, std::shared_ptr<Pipe> from) -> task<> { co_await read.take(std::move(from)); };
    std::string out;
    append_message_out(out, 1, "SLOW? 100\n", true);
    co_await pipe->bulk_out(out);
    out.clear();
    append_request_in(out, 2, 100);
    co_await pipe->bulk_out(out);
    CHECK_FALSE(co_await base::finished_within(*p.sim.timeline, 10ms, wait(packet, pipe)));
    co_await p.sim.timeline->sleep(1s);
    const auto moved = co_await packet.take(pipe);
    CHECK(moved.bytes == packet.bytes().size());
    CHECK(packet.bytes().substr(header_bytes) == "answer to SLOW? 100\n");
    // Stopped, what came is dropped and the next read is a new one.
    co_await packet.start(pipe);
    co_await packet.stop();
    CHECK_FALSE(co_await base::finished_within(*p.sim.timeline, 10ms, wait(packet, pipe)));
  };
  port.sim.run(body(port));
}

TEST_CASE("usbtmc conversation: a class request that is never answered ends by itself and says which", "[usbtmc]") {
  test::SimulatedPort port;
  auto body = [](test::SimulatedPort& p) -> task<> {
    Conversation conversation(*p.sim.timeline, p.name, {});
    conversation.pipe = co_await p.open()();
    conversation.gone = false;
    p.now().control = [](Request, const Setup&) { return ControlReply{Handshake::nak, {}}; };
    const auto told = co_await conversation.ask(Request::initiate_clear, 0);
    CHECK(told.silent);
    CHECK(told.text == "INITIATE_CLEAR: no answer within 1 s");
    CHECK(p.sim.timeline->now() == 1s);
    p.server->unplug();
    CHECK((co_await conversation.ask(Request::initiate_clear, 0)).trouble == Trouble::gone);
    CHECK(conversation.gone);
  };
  port.sim.run(body(port));
}
