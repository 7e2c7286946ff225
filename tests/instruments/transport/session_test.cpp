// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/session.hpp"

#include <boost/asio/co_spawn.hpp>
#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/transport/memory/client.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

// "late" takes 5 s; everything else is answered at once with its own name.
std::shared_ptr<test::ScriptedDevice> named_answers(base::Timeline& timeline) {
  return std::make_shared<test::ScriptedDevice>(timeline, [](std::string_view message, Reply& reply) -> base::Duration {
    reply.bytes = "answer to " + std::string(message);
    return message == "late?" ? 5s : 0s;
  });
}

}  // namespace

TEST_CASE("session: a late answer is never taken for the next one", "[transport]") {
  test::Simulated sim;
  auto device = named_answers(*sim.timeline);
  auto main = [](base::Timeline& timeline, std::shared_ptr<Device> served) -> task<> {
    Session session(timeline, co_await memory::connect(served, "MEMORY0::m::INSTR"));
    std::optional<base::ErrorRecord> record;
    try {
      co_await session.query("late?", 2s);
    } catch (const base::Error& error) {
      record = error.record();
    }
    REQUIRE(record);
    CHECK(record->code == base::ErrorCode::time_out);
    CHECK(record->where == "MEMORY0::m::INSTR");
    CHECK(record->message == "no answer within 2.00 s");
    CHECK(record->sent == "late?");
    CHECK(record->elapsed_s == 2.0);
    CHECK(session.dirty());
    co_await timeline.sleep(10s);  // the late answer would be there by now
    CHECK(co_await session.query("next?", 2s) == "answer to next?");
    CHECK_FALSE(session.dirty());
  };
  sim.run(main(*sim.timeline, device));
  CHECK(device->clears == 1);
}

TEST_CASE("session: a cancelled query leaves it dirty, the next one is clean", "[transport]") {
  test::Simulated sim;
  auto device = named_answers(*sim.timeline);
  auto query = [](Session& session) -> task<> { co_await session.query("late?", 20s); };
  auto main = [&query](base::Timeline& timeline, std::shared_ptr<Device> served) -> task<> {
    Session session(timeline, co_await memory::connect(served, "MEMORY0::m::INSTR"));
    CHECK_FALSE(co_await base::finished_within(timeline, 1s, query(session)));
    CHECK(session.dirty());
    CHECK(co_await session.query("next?", 2s) == "answer to next?");
  };
  sim.run(main(*sim.timeline, device));
}

TEST_CASE("session: what came before the time ran out is in the error", "[transport]") {
  test::Simulated sim;
  auto device = std::make_shared<test::ScriptedDevice>(*sim.timeline, [](std::string_view, Reply& reply) {
    reply.bytes = "#3100abc";
    reply.terminated = false;
    return base::Duration(0);
  });
  auto main = [](base::Timeline& timeline, std::shared_ptr<Device> served) -> task<> {
    Session session(timeline, co_await memory::connect(served, "MEMORY0::m::INSTR"));
    try {
      co_await session.query("data?", 1500ms);
      FAIL("an answer without end was taken");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::time_out);
      CHECK(error.record().received == "#3100abc");
      CHECK(error.record().message == "no complete answer within 1.50 s, 8 bytes came");
    }
  };
  sim.run(main(*sim.timeline, device));
}

TEST_CASE("session: two operations at once are our defect, not mixed answers", "[transport]") {
  test::Simulated sim;
  auto device = named_answers(*sim.timeline);
  auto first = [](Session& session) -> task<> { co_await session.query("late?", 20s); };
  auto main = [&](base::Timeline& timeline, std::shared_ptr<Device> served) -> task<> {
    Session session(timeline, co_await memory::connect(served, "MEMORY0::m::INSTR"));
    auto second = [](base::Timeline& t, Session& s) -> task<> {
      co_await t.sleep(1s);
      co_await s.query("second?", 1s);
    };
    std::exception_ptr caught;
    boost::asio::co_spawn(sim.loop, second(timeline, session), [&caught](std::exception_ptr e) { caught = e; });
    co_await first(session);
    REQUIRE(caught);
    CHECK_THROWS_WITH(std::rethrow_exception(caught), Catch::Contains("two operations at once"));
  };
  sim.run(main(*sim.timeline, device));
}
