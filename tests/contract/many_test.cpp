// SPDX-License-Identifier: Apache-2.0
// Many instruments on one thread: none waits for another.
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/this_coro.hpp>

#include <catch2/catch.hpp>

#include <memory>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/socket/client.hpp"
#include "instruments/transport/socket/server.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t instruments = 64;
constexpr int queries = 50;

struct Counts {
  std::size_t busy = 0;  // conversations that have not come to their end
  std::size_t right = 0;
  std::size_t timed_out = 0;
  base::Gong changed;
};

// Every eighth instrument never answers its tenth query.
bool is_dead(std::size_t i) { return i % 8 == 3; }

task<> converse(Session& session, std::size_t i, Counts& counts) {
  const std::string name = "instrument " + std::to_string(i);
  for (int k = 0; k < queries; ++k) {
    const bool dies = is_dead(i) && k == 10;
    try {
      if (co_await session.query(dies ? "dead?" : "who?", dies ? 50ms : 60s) == name) ++counts.right;
    } catch (const base::Error& error) {
      if (error.record().code == base::ErrorCode::time_out) ++counts.timed_out;
    }
  }
  --counts.busy;
  counts.changed.strike();
}

}  // namespace

TEST_CASE(
    "transport contract: one thread talks to 64 instruments at once, and those that die hold up none of the others",
    "[contract]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    std::vector<std::unique_ptr<socket::SocketServer>> servers;
    std::vector<std::unique_ptr<Session>> sessions;
    Counts counts;
    for (std::size_t i = 0; i < instruments; ++i) {
      auto device = std::make_shared<test::ScriptedDevice>(
          timeline,
          [name = "instrument " + std::to_string(i)](std::string_view message, Reply& reply) -> base::Duration {
            reply.bytes = name;
            return message == "dead?" ? 1h : 0h;
          });
      servers.push_back(std::make_unique<socket::SocketServer>(executor, device, socket::Listen{}));
      const auto name = parse_resource_name(servers.back()->resource_name());
      sessions.push_back(std::make_unique<Session>(timeline, co_await socket::connect(name)));
    }
    counts.busy = instruments;
    for (std::size_t i = 0; i < instruments; ++i)
      boost::asio::co_spawn(executor, converse(*sessions[i], i, counts), boost::asio::detached);
    while (counts.busy > 0) co_await counts.changed.wait();
    constexpr std::size_t dead = instruments / 8;
    CHECK(counts.timed_out == dead);
    CHECK(counts.right == instruments * queries - dead);
  };
  wall.run(main(*wall.timeline));
}
