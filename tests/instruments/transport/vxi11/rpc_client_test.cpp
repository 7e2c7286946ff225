// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/rpc_client.hpp"

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/vxi11/raw_client.hpp"
#include "tests/instruments/transport/vxi11/scripted_instrument.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;

namespace {

task<> call(RpcClient& client, std::string& results) { results = co_await client.call(42, "args"); }

}  // namespace

TEST_CASE("rpc client: replies to calls that were given up are passed over and counted", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    test::ScriptedInstrument instrument(co_await boost::asio::this_coro::executor);
    std::vector<FoundCall> calls;
    instrument.state->script = [&calls](const FoundCall& found) {
      calls.push_back(found);
      // The first two are answered with the third, late and in the wrong order.
      if (calls.size() < 3) return std::string();
      return test::reply_to(calls[1], "late") + test::reply_to(calls[0], "later") + test::reply_to(found, "right");
    };
    const auto client = co_await test::RawClient::connect(instrument.core.port());
    std::string results;
    while (calls.size() < 2) {
      CHECK_FALSE(co_await base::finished_within(timeline, 10ms, call(client->rpc, results)));
      CHECK(client->rpc.is_unanswered());
      CHECK_FALSE(client->rpc.is_broken());
    }
    co_await call(client->rpc, results);
    CHECK(results == "right");
    CHECK(client->rpc.late_replies() == 2);
    CHECK_FALSE(client->rpc.is_unanswered());
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("rpc client: a refused call leaves the connection usable, bytes that are no reply do not", "[transport]") {
  test::Wall wall;
  auto main = []() -> task<> {
    test::ScriptedInstrument instrument(co_await boost::asio::this_coro::executor);
    std::string next;
    instrument.state->script = [&next](const FoundCall& found) {
      if (next == "refuse") {
        std::string record;
        begin_record(record);
        append_version_mismatch(record, found.call.xid, 1, 1);
        end_record(record);
        return record;
      }
      if (next == "nonsense") return std::string("\x80\x00\x00\x0Cnonsense", 12) + "1234";
      return test::reply_to(found, "fine");
    };
    const auto client = co_await test::RawClient::connect(instrument.core.port());
    std::string results;
    next = "refuse";
    CHECK_THROWS_AS(co_await call(client->rpc, results), CallRefused);
    CHECK_FALSE(client->rpc.is_broken());
    next = "";
    co_await call(client->rpc, results);
    CHECK(results == "fine");
    next = "nonsense";
    CHECK_THROWS_AS(co_await call(client->rpc, results), WireFault);
    CHECK(client->rpc.is_broken());
    CHECK_FALSE(client->rpc.send_at_once(1, ""));
  };
  wall.run(main());
}
