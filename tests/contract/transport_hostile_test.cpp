// SPDX-License-Identifier: Apache-2.0
// The suite over every transport, continued: answers that are too long, cut, endless, or not for us.
#include "instruments/scpi/message/response_reader.hpp"
#include "tests/contract/transport_bench.hpp"

using namespace eyelevel;
using namespace eyelevel::test;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

TEST_CASE("transport contract: a block whose announced length is wrong is an error, never an answer", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "more?" ? "#3020" + std::string(16, 'x') : "#3016" + std::string(20, 'x');
    if (message == "right?") reply.bytes = "#3016" + std::string(16, 'x');
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    for (const char* wrong : {"more?", "less?"}) {
      CAPTURE(wrong);
      const auto error = co_await error_of(bench.session, wrong, short_wait);
      REQUIRE(error);
      // Where the carrier does not tell the end of a message, too few bytes can only be waited for.
      const bool told = error->code == base::ErrorCode::bad_answer || error->code == base::ErrorCode::time_out;
      CHECK(told);
      CHECK(co_await bench.session.query("right?", generous) == "#3016" + std::string(16, 'x'));
    }
  });
}

TEST_CASE("transport contract: an answer beyond the limit is refused without being stored", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "huge?" ? "#9999999999abc" : "ok";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    const auto error = co_await error_of(bench.session, "huge?", generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::bad_answer);
    CHECK_THAT(error->message, Catch::Contains("999999999 bytes"));
    CHECK(co_await bench.session.query("next?", generous) == "ok");
  });
}

TEST_CASE("transport contract: the caller's limit for an answer holds, and the error names the instrument",
          "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "long?" ? std::string(1'000'000, 'A') : "ok";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    Buffer answer;
    std::optional<base::ErrorRecord> error;
    try {
      co_await bench.session.query("long?", answer, generous, 1000);
    } catch (const base::Error& e) {
      error = e.record();
    }
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::bad_answer);
    CHECK(error->where == bench.session.resource_name());
    CHECK_THAT(error->message, Catch::Contains("limit of 1000 bytes"));
    CHECK(error->received.size() <= 400);
    CHECK(co_await bench.session.query("next?", generous) == "ok");
  });
}

TEST_CASE(
    "transport contract: a block whose length is negative or no number is text, which no reader takes for a block",
    "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "negative?" ? "#2-5abc" : message == "letters?" ? "#A12345" : "#10";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    for (const auto& [query, bytes] : {std::pair{"negative?", "#2-5abc"}, std::pair{"letters?", "#A12345"}}) {
      const auto answer = co_await bench.session.query(query, generous);
      CHECK(answer == bytes);
      CHECK_THROWS_AS(scpi::ResponseReader(answer).block(), base::Error);
    }
    const auto empty = co_await bench.session.query("zero?", generous);
    CHECK(scpi::ResponseReader(empty).block().empty());
  });
}

TEST_CASE("transport contract: an answer to another message is passed over, and told with the time-out", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = "answer to " + std::string(message);
    reply.wrong_id = message == "stray?";
    return base::Duration(0);
  };
  on_carriers({"vxi11", "hislip"}, script, [](Bench bench) -> task<> {
    const auto error = co_await error_of(bench.session, "stray?", short_wait);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::time_out);
    CHECK_THAT(error->message, Catch::EndsWith("; 1 answer to other messages came and was passed over"));
    CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
  });
}

TEST_CASE("transport contract: a message of another type where an answer should be is an error, then it works again",
          "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = "answer to " + std::string(message);
    reply.wrong_type = message == "odd?";
    return base::Duration(0);
  };
  on_carriers({"vxi11", "hislip"}, script, [](Bench bench) -> task<> {
    const auto error = co_await error_of(bench.session, "odd?", generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::bad_answer);
    CHECK(error->where == bench.session.resource_name());
    CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
  });
}

TEST_CASE("transport contract: an answer byte by byte is whole, and one without an end is refused at the limit",
          "[contract]") {
  on_carriers(
      {"socket", "vxi11", "hislip", "hislip, overlapped"},
      [](std::string_view message, Reply& reply) {
        reply.bytes = message == "endless?" ? std::string(5000, 'A') : "answer to " + std::string(message);
        reply.endless = message == "endless?";
        reply.terminated = !reply.endless;
        if (message == "slow?") reply.pace = [] { return paced(); };
        return base::Duration(0);
      },
      [](Bench bench) -> task<> {
        CHECK(co_await bench.session.query("slow?", generous) == "answer to slow?");
        Buffer answer;
        std::optional<base::ErrorRecord> error;
        try {
          co_await bench.session.query("endless?", answer, generous, 100'000);
        } catch (const base::Error& e) {
          error = e.record();
        }
        REQUIRE(error);
        CHECK(error->code == base::ErrorCode::bad_answer);
        CHECK_THAT(error->message, Catch::Contains("limit of 100000 bytes"));
        CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
      });
}
