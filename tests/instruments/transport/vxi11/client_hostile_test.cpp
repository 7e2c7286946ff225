// SPDX-License-Identifier: Apache-2.0
// VXI-11 instruments that fall silent, close, forget or lie.
#include "instruments/transport/vxi11/client.hpp"

#include "tests/instruments/transport/vxi11/scripted_client.hpp"

using namespace eyelevel;
using namespace eyelevel::test;
using namespace eyelevel::transport;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;

TEST_CASE("vxi11 client: silence from any byte of opening, writing and reading on ends by the deadline, then it works",
          "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& whole) -> task<> {
    std::unique_ptr<Session> session;
    std::string got;
    co_await open_and_ask(timeline, whole, session, got);
    CHECK(got == "answer to x?");
    const std::size_t bytes = whole.state->sent - answer_padding;
    REQUIRE(bytes > 100);
    for (std::size_t most = 0; most < bytes; ++most) {
      CAPTURE(most);
      ScriptedInstrument instrument(co_await boost::asio::this_coro::executor);
      instrument.state->most_sent = most;
      session.reset();
      REQUIRE_FALSE(
          co_await base::finished_within(timeline, short_wait, open_and_ask(timeline, instrument, session, got)));
      instrument.state->most_sent = std::numeric_limits<std::size_t>::max();
      // In-band clearing may meet the connection that fell silent; then a new one is opened.
      if (!session) session = co_await opened(timeline, instrument);
      const auto first = co_await error_of_query(*session, short_wait);
      if (first) CHECK(first->code == base::ErrorCode::time_out);
      CHECK(co_await session->query("y?", generous) == "answer to y?");
    }
  });
}

TEST_CASE("vxi11 client: a connection closed at any byte of opening, writing and reading is told, then it works",
          "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& whole) -> task<> {
    std::unique_ptr<Session> session;
    std::string got;
    co_await open_and_ask(timeline, whole, session, got);
    const std::size_t bytes = whole.state->sent - answer_padding;
    for (std::size_t most = 0; most < bytes; ++most) {
      CAPTURE(most);
      ScriptedInstrument instrument(co_await boost::asio::this_coro::executor);
      instrument.state->most_sent = most;
      instrument.state->closes = true;
      session.reset();
      const auto error = co_await error_in([&] { return open_and_ask(timeline, instrument, session, got); });
      REQUIRE(error);
      CHECK(error->code == (session ? base::ErrorCode::connection_lost : base::ErrorCode::no_connection));
      instrument.state->most_sent = std::numeric_limits<std::size_t>::max();
      if (!session) session = co_await opened(timeline, instrument);
      CHECK(co_await session->query("y?", generous) == "answer to y?");
    }
  });
}

TEST_CASE("vxi11 client: silence from any byte of clearing on ends by the deadline, then it works", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& whole) -> task<> {
    auto session = co_await opened(timeline, whole);
    co_await ask_in_vain(*session, whole);
    const std::size_t before = whole.state->sent;
    CHECK(co_await session->query("y?", generous) == "answer to y?");
    const std::size_t clearing = 2 * (4 + 24 + 4);  // replies to device_abort and device_clear
    REQUIRE(whole.state->sent > before + clearing);
    for (std::size_t most = 0; most < clearing; ++most) {
      CAPTURE(most);
      ScriptedInstrument instrument(co_await boost::asio::this_coro::executor);
      session = co_await opened(timeline, instrument);
      co_await ask_in_vain(*session, instrument);
      instrument.state->most_sent = instrument.state->sent + most;
      const auto error = co_await error_of_query(*session, short_wait);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::time_out);
      instrument.state->most_sent = std::numeric_limits<std::size_t>::max();
      CHECK(co_await session->query("y?", generous) == "answer to y?");
    }
  });
}

TEST_CASE("vxi11 client: opening says which step failed", "[transport]") {
  with_instrument([](base::Timeline&, ScriptedInstrument& instrument) -> task<> {
    const auto failure = [&instrument](auto change) -> task<std::string> {
      change();
      const auto error = co_await error_in(
          [&instrument]() -> task<> { co_await connect(ScriptedInstrument::name(), instrument.options()); });
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::no_connection);
      CHECK(error->where == "TCPIP0::127.0.0.1::inst0::INSTR");
      CHECK_FALSE(error->advice.empty());
      co_return error->message;
    };
    const auto state = instrument.state;
    const auto created = [&](CreatedLink result) {
      state->script = {};
      answer(instrument, Procedure::create_link,
             [=](const FoundCall& found) { return test::reply_with(found, result); });
    };
    CHECK_THAT(co_await failure([&] { created({.error = DeviceError::not_accessible}); }),
               Catch::Equals("opening the link to inst0: the device is not accessible (VXI-11 error 3)"));
    CHECK_THAT(co_await failure([&] { created({.error = DeviceError::out_of_resources}); }),
               Catch::Contains("out of resources"));
    state->script = {};
    CHECK_THAT(co_await failure([&] { state->mappings = {{.program = 1, .version = 1, .port = 1}}; }),
               Catch::Contains("portmapper") && Catch::Contains("VXI-11 is not served there"));
    CHECK_THAT(co_await failure([&] { state->mappings = {{.program = core_program, .version = 1, .port = 70000}}; }),
               Catch::Contains("port 70000 is none"));
    // A port of ours that was just free.
    std::uint16_t unused = 0;
    {
      const ScriptedInstrument other(co_await boost::asio::this_coro::executor);
      unused = other.core.port();
    }
    CHECK_THAT(co_await failure([&] { state->mappings = {{.program = core_program, .version = 1, .port = unused}}; }),
               Catch::StartsWith("the core channel on port " + std::to_string(unused) + " cannot be reached"));
    instrument.portmapper.stop();
    Options options;
    options.portmapper_port = unused;
    const auto nobody = co_await error_in([&]() -> task<> { co_await connect(ScriptedInstrument::name(), options); });
    REQUIRE(nobody);
    CHECK_THAT(nobody->message, Catch::StartsWith("the portmapper on port " + std::to_string(unused)));
  });
}

TEST_CASE("vxi11 client: a hostile instrument is refused with the field, whatever it claims", "[transport]") {
  struct Hostile {
    const char* what;
    Procedure procedure;
    std::function<std::string(const FoundCall&)> reply;
    const char* told;
  };
  const auto raw_read = [](std::uint32_t bytes) {
    return [bytes](const FoundCall& found) {
      std::string results;
      append(results, ReadHead{DeviceError::none, reason_end, bytes});
      return test::reply_to(found, results);
    };
  };
  const std::vector<Hostile> all{
      {"4 GB of data", Procedure::device_read, raw_read(0xFFFFFFFF), "4294967295 bytes of data"},
      {"data that is not there", Procedure::device_read, raw_read(100), "100 bytes before the end of its data"},
      {"a fragment of 2 GB", Procedure::device_read,
       [](const FoundCall&) { return std::string("\xFF\xFF\xFF\xFF", 4); }, "more than the limit"},
      {"a reply of 4 bytes", Procedure::device_read,
       [](const FoundCall&) { return std::string("\x80\x00\x00\x04\x00\x00\x00\x05", 8); }, "the reply's head"},
      {"a verifier of 4 GB", Procedure::device_read,
       [](const FoundCall& found) {
         auto reply = test::reply_data(found, "x", reason_end);
         reply.replace(20, 4, "\xFF\xFF\xFF\xFF");
         return reply;
       },
       "the verifier"},
      {"a call in place of a reply", Procedure::device_read,
       [](const FoundCall& found) {
         auto reply = test::reply_data(found, "x", reason_end);
         reply[11] = '\0';
         return reply;
       },
       "message type 0"},
      {"no byte and no end, for ever", Procedure::device_read,
       [](const FoundCall& found) { return test::reply_data(found, "", 0); }, "neither a byte nor the end"},
      {"an unknown error", Procedure::device_read,
       [](const FoundCall& found) { return test::reply_data(found, "", 0, static_cast<DeviceError>(-7)); },
       "VXI-11 error -7"},
      {"empty fragments for ever", Procedure::device_read, [](const FoundCall&) { return std::string(4000, '\0'); },
       "empty fragments"},
      {"more taken than sent", Procedure::device_write,
       [](const FoundCall& found) { return test::reply_with(found, Written{DeviceError::none, 0x80000000}); },
       "it took 2147483648 bytes of 3"},
      {"nothing taken, for ever", Procedure::device_write,
       [](const FoundCall& found) { return test::reply_with(found, Written{DeviceError::none, 0}); },
       "calls took nothing"},
      {"a result of two bytes", Procedure::device_write,
       [](const FoundCall& found) { return test::reply_to(found, "ab"); }, "before the end of the result"},
  };
  for (const auto& hostile : all) {
    with_instrument([&](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
      INFO(hostile.what);
      answer(instrument, hostile.procedure, hostile.reply);
      auto session = co_await opened(timeline, instrument);
      const auto error = co_await error_of_query(*session, generous);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::bad_answer);
      CHECK(error->where == "TCPIP0::127.0.0.1::inst0::INSTR");
      CHECK_THAT(error->message, Catch::Contains(hostile.told));
      instrument.state->script = {};
      CHECK(co_await session->query("y?", generous) == "answer to y?");
    });
  }
}

TEST_CASE("vxi11 client: an answer that never ends is refused at the limit, not stored", "[transport]") {
  with_instrument([](base::Timeline&, ScriptedInstrument& instrument) -> task<> {
    std::size_t given = 0;
    answer(instrument, Procedure::device_read, [&](const FoundCall& found) {
      Read call;
      XdrReader reader(found.arguments);
      read(reader, call);
      given += call.most_bytes;
      return test::reply_data(found, std::string(call.most_bytes, 'x'), reason_count);
    });
    const auto link = co_await connect(ScriptedInstrument::name(), instrument.options());
    Buffer answer;
    const auto error = co_await error_in([&]() -> task<> {
      co_await link->write("x?");
      co_await link->read(answer, 5000);
    });
    REQUIRE(error);
    CHECK_THAT(error->message, Catch::Contains("limit of 5000 bytes"));
    CHECK(given == 5003);  // CR NL, and one byte by which too many are seen
  });
}

TEST_CASE("vxi11 client: a link that the instrument has forgotten is a lost connection and is opened anew",
          "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    bool forgotten = true;
    answer(instrument, Procedure::device_write, [&](const FoundCall& found) {
      if (std::exchange(forgotten, false)) return test::reply_with(found, Written{DeviceError::invalid_link, 0});
      return ScriptedInstrument::oblige(found, *instrument.state);
    });
    auto session = co_await opened(timeline, instrument);
    const auto error = co_await error_of_query(*session, generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::connection_lost);
    CHECK(co_await session->query("y?", generous) == "answer to y?");
    CHECK(instrument.count(Procedure::create_link) == 2);
  });
}
