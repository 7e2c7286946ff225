// SPDX-License-Identifier: Apache-2.0
// One suite over every transport: what link.hpp and device.hpp promise, seen through a Session as every user sees it.
// What goes wrong on purpose is in transport_hostile_test.cpp, what goes beside the messages in
// transport_beside_test.cpp.
#include "instruments/scpi/message/response_reader.hpp"
#include "tests/contract/transport_bench.hpp"

using namespace eyelevel;
using namespace eyelevel::test;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

TEST_CASE("transport contract: blocks and texts of every size around the buffer edges arrive whole", "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    Buffer answer;
    for (const std::size_t size : edge_sizes()) {
      CAPTURE(size);
      const std::string block_query = "BLOC? " + std::to_string(size);
      co_await bench.session.query(block_query, answer, generous);
      scpi::ResponseReader reader(answer);
      REQUIRE((reader.block() == pattern(size)));
      reader.end();
      if (size == 0) continue;  // nothing to say is no answer
      const std::string text_query = "TEXT? " + std::to_string(size);
      co_await bench.session.query(text_query, answer, generous);
      REQUIRE((answer == std::string(size, 'x')));
    }
  });
}

TEST_CASE("transport contract: how much of a large block has come is told, of how much its header says", "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    constexpr std::size_t size = 10'000'000;
    constexpr std::size_t whole = size + 10;  // "#810000000"
    std::vector<std::size_t> told;
    bench.session.on_progress([&](std::size_t bytes, std::size_t of) {
      told.push_back(bytes);
      CHECK(of == whole);
    });
    CHECK((co_await bench.session.query("BLOC? " + std::to_string(size), generous)).size() == whole);
    REQUIRE_FALSE(told.empty());
    CHECK(std::is_sorted(told.begin(), told.end()));
    CHECK(told.back() == whole);
    // How many pieces there are is the system's affair; in memory it is one.
    CHECK((told.front() < whole || bench.session.resource_name().starts_with("MEMORY")));
    told.clear();
    bench.session.on_progress({});
    co_await bench.session.query("BLOC? 1000", generous);
    CHECK(told.empty());
  });
}

TEST_CASE("transport contract: of a text only what has come is told, for nothing says how long it will be",
          "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    std::size_t last = 0;
    bench.session.on_progress([&](std::size_t bytes, std::size_t of) {
      last = bytes;
      CHECK(of == 0);
    });
    co_await bench.session.query("TEXT? 3000000", generous);
    CHECK(last >= 3000000);
  });
}

TEST_CASE("transport contract: program messages of every size around the buffer edges arrive whole", "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    for (const std::size_t size : edge_sizes()) {
      CAPTURE(size);
      std::string message = "TAKE A,";
      scpi::append_block(message, pattern(size));
      co_await bench.session.write(message, generous);
      REQUIRE(co_await bench.session.query("SIZE?", generous) == std::to_string(message.size()));
    }
  });
}

TEST_CASE("transport contract: several blocks and elements make one answer", "[contract]") {
  const auto script = [](std::string_view, Reply& reply) {
    reply.bytes = "1,#12\n\n,2;#13;\n,,\"a\"";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    CHECK(co_await bench.session.query("?", generous) == "1,#12\n\n,2;#13;\n,,\"a\"");
  });
}

TEST_CASE("transport contract: an instrument that is silent from any byte on ends in a time-out, then works again",
          "[contract]") {
  const std::string answer = "1.5,#15ab\nc\n,ok";
  const auto script = [answer](std::string_view message, Reply& reply) {
    reply.bytes = answer;
    if (message.starts_with("STOP? ")) {
      reply.bytes.resize(number_in(message));
      reply.terminated = false;
    }
    return base::Duration(0);
  };
  on_every_carrier(script, [answer](Bench bench) -> task<> {
    for (std::size_t bytes = 0; bytes <= answer.size(); ++bytes) {
      CAPTURE(bytes);
      // A busy machine may not have carried all bytes within so short a time: then it gets more.
      std::optional<base::ErrorRecord> error;
      for (base::Duration wait = short_wait; wait < 5s; wait *= 4) {
        error = co_await error_of(bench.session, "STOP? " + std::to_string(bytes), wait);
        if (!error || error->received == answer.substr(0, bytes)) break;
      }
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::time_out);
      CHECK(error->received == answer.substr(0, bytes));
      CHECK(co_await bench.session.query("ALL?", generous) == answer);
    }
  });
}

TEST_CASE("transport contract: an instrument that closes at any byte is a lost connection, then works again",
          "[contract]") {
  const std::string answer = "1.5,#15ab\nc\n,ok";
  const auto script = [answer](std::string_view message, Reply& reply) {
    reply.bytes = answer;
    if (message.starts_with("STOP? ")) {
      reply.bytes.resize(number_in(message));
      reply.close_after = true;
      reply.terminated = false;
    }
    return base::Duration(0);
  };
  on_every_carrier(script, [answer](Bench bench) -> task<> {
    for (std::size_t bytes = 0; bytes <= answer.size(); ++bytes) {
      CAPTURE(bytes);
      const auto error = co_await error_of(bench.session, "STOP? " + std::to_string(bytes), generous);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::connection_lost);
      CHECK(bench.session.dirty());
      CHECK(co_await bench.session.query("ALL?", generous) == answer);
    }
  });
}

TEST_CASE("transport contract: after a time-out a late answer is never taken for the next one", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) -> base::Duration {
    reply.bytes = "answer to " + std::string(message);
    return message == "late?" ? 3 * short_wait : base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    for (int round = 0; round < 3; ++round) {
      const auto error = co_await error_of(bench.session, "late?", short_wait);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::time_out);
      CHECK(error->sent == "late?");
      // At once, and after the late answer was due.
      CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
      co_await bench.timeline.sleep(4 * short_wait);
      CHECK(co_await bench.session.query("again?", generous) == "answer to again?");
    }
  });
}

TEST_CASE("transport contract: cancellation reaches the wait, and the next answer is the right one", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) -> base::Duration {
    reply.bytes = "answer to " + std::string(message);
    return message == "slow?" ? 1h : 0h;
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    auto slow = [](Session& session) -> task<> { co_await session.query("slow?", 2h); };
    CHECK_FALSE(co_await base::finished_within(bench.timeline, short_wait, slow(bench.session)));
    CHECK(bench.session.dirty());
    if (bench.session.resource_name().starts_with("ASRL")) {
      // A serial line has no device clear: what is executed can only be waited for, and the wait has an end.
      const auto error = co_await error_of(bench.session, "next?", short_wait);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::time_out);
      CHECK_THAT(error->message, Catch::Contains("could not be cleared"));
      CHECK(bench.session.dirty());
      co_return;
    }
    CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
  });
}

TEST_CASE("transport contract: a closed session says that it is closed", "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    bench.session.close();
    const auto error = co_await error_of(bench.session, "anybody?", generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::connection_lost);
  });
}
