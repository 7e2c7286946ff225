// SPDX-License-Identifier: Apache-2.0
// What only VXI-11 does, against an instrument whose every byte a test decides; what all transports share is in
// tests/contract. Rules: VXI-11 rev 1.0, section B.6.
#include "instruments/transport/vxi11/client.hpp"

#include <catch2/catch.hpp>

#include <optional>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/vxi11/server.hpp"
#include "tests/instruments/transport/vxi11/scripted_instrument.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;
using test::ScriptedInstrument;

namespace {

using Body = std::function<task<>(base::Timeline&, ScriptedInstrument&)>;

task<> on_instrument(base::Timeline& timeline, const Body& body) {
  ScriptedInstrument instrument(co_await boost::asio::this_coro::executor);
  co_await body(timeline, instrument);
}

void with_instrument(const Body& body) {
  test::Wall wall;
  wall.run(on_instrument(*wall.timeline, body));
}

// Answers one procedure by hand, the rest as a well-behaved instrument does.
void answer(ScriptedInstrument& instrument, Procedure procedure, std::function<std::string(const FoundCall&)> by_hand) {
  auto inner = instrument.state->script;
  instrument.state->script = [state = instrument.state.get(), procedure, inner, by_hand](const FoundCall& found) {
    if (found.call.program != portmapper_program && found.call.procedure == static_cast<std::uint32_t>(procedure))
      return by_hand(found);
    return inner ? inner(found) : ScriptedInstrument::oblige(found, *state);
  };
}

template <class Attempt>
task<std::optional<base::ErrorRecord>> error_in(Attempt attempt) {
  std::optional<base::ErrorRecord> record;
  try {
    co_await attempt();
  } catch (const base::Error& error) {
    record = error.record();
  }
  co_return record;
}

task<std::optional<base::ErrorRecord>> error_of_query(Session& session, base::Duration within) {
  return error_in([&session, within] { return session.query("x?", within); });
}

task<std::unique_ptr<Session>> opened(base::Timeline& timeline, const ScriptedInstrument& instrument) {
  co_return std::make_unique<Session>(timeline, co_await connect(ScriptedInstrument::name(), instrument.options()));
}

task<> open_and_ask(base::Timeline& timeline, const ScriptedInstrument& instrument, std::unique_ptr<Session>& session,
                    std::string& answer) {
  session = co_await opened(timeline, instrument);
  answer = co_await session->query("x?", 1h);
}

// A query whose answer never comes, up to the moment when it is waited for, however busy the machine is.
task<> ask_in_vain(Session& session, ScriptedInstrument& instrument) {
  answer(instrument, Procedure::device_read, [](const FoundCall&) { return std::string(); });
  const std::size_t before = instrument.count(Procedure::device_read);
  for (base::Duration wait = 15ms; instrument.count(Procedure::device_read) == before; wait *= 2) {
    const auto error = co_await error_of_query(session, wait);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::time_out);
  }
  instrument.state->script = {};
  instrument.state->calls.clear();
}

std::vector<Write> writes_of(const ScriptedInstrument& instrument) {
  std::vector<Write> writes;
  for (const auto& call : instrument.state->calls) {
    if (call.procedure != Procedure::device_write) continue;
    XdrReader reader(call.arguments);
    read(reader, writes.emplace_back(), 1U << 30U);
  }
  return writes;
}

constexpr base::Duration generous = 10s;
constexpr base::Duration short_wait = 15ms;
// The zeros behind the last byte of an answer are not waited for.
constexpr std::size_t answer_padding = padding_of(std::string_view("answer to x?\n").size());

}  // namespace

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

TEST_CASE("vxi11 client: a long message is split to what the instrument takes, END only with the last byte",
          "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    auto session = co_await opened(timeline, instrument);
    // The message with its NL fills whole calls, or one byte more or less.
    for (const std::size_t size : {1022U, 1023U, 1024U, 2047U, 2048U, 5000U}) {
      CAPTURE(size);
      instrument.state->calls.clear();
      const std::string message(size, 'x');
      co_await session->write(message, generous);
      CHECK(instrument.state->message == message + "\n");
      const auto writes = writes_of(instrument);
      CHECK(writes.size() == (size + 1 + 1023) / 1024);
      for (std::size_t i = 0; i < writes.size(); ++i)
        CHECK(writes[i].head.flags == (i + 1 == writes.size() ? flag_end : 0));
    }
  });
}

TEST_CASE("vxi11 client: what the instrument did not take is sent again", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    std::string taken;
    int calls = 0;
    answer(instrument, Procedure::device_write, [&](const FoundCall& found) {
      Write call;
      XdrReader reader(found.arguments);
      read(reader, call, 4096);
      // 0, 1, 2 ... bytes; each third with the error that says that its time ran out.
      const std::size_t count = std::min<std::size_t>(call.data.size(), static_cast<std::size_t>(calls % 7));
      taken += call.data.substr(0, count);
      if ((call.head.flags & flag_end) != 0 && count == call.data.size()) taken += "^END";
      return test::reply_with(found, Written{++calls % 3 == 0 ? DeviceError::io_timeout : DeviceError::none,
                                             static_cast<std::uint32_t>(count)});
    });
    auto session = co_await opened(timeline, instrument);
    co_await session->write("a message of some length", generous);
    CHECK(taken == "a message of some length\n^END");
  });
}

TEST_CASE("vxi11 client: only END ends an answer, and after END nothing is asked for", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    struct Reply {
      std::string data;
      std::uint32_t reason;
      DeviceError error = DeviceError::none;
    };
    // Fewer bytes than asked, none at all, the count's reason, the instrument's own time-out: none of them is an end.
    const std::vector<Reply> replies{{"1.5", 0},
                                     {"", 0},
                                     {"e", reason_count},
                                     {"-", 0, DeviceError::io_timeout},
                                     {"", 0, DeviceError::io_timeout},
                                     {"3\n", reason_end | reason_count}};
    std::size_t next = 0;
    answer(instrument, Procedure::device_read, [&](const FoundCall& found) {
      const auto& reply = replies.at(next++);
      return test::reply_data(found, reply.data, reply.reason, reply.error);
    });
    auto session = co_await opened(timeline, instrument);
    CHECK(co_await session->query("x?", generous) == "1.5e-3");
    CHECK(next == replies.size());
  });
}

TEST_CASE("vxi11 client: a late answer is known by its transaction id and passed over", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    answer(instrument, Procedure::device_read, [&](const FoundCall& found) {
      FoundCall earlier = found;
      earlier.call.xid -= 2;
      FoundCall never = found;
      never.call.xid += 1000;
      return test::reply_data(earlier, "late", reason_end) + test::reply_data(never, "foreign", reason_end) +
             test::reply_data(found, "right", reason_end);
    });
    auto session = co_await opened(timeline, instrument);
    CHECK(co_await session->query("x?", generous) == "right");
  });
}

TEST_CASE("vxi11 client: a reply in many fragments, some of them empty, is one reply", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    const std::string data(70000, 'd');
    answer(instrument, Procedure::device_read, [&](const FoundCall& found) {
      const auto whole = test::reply_data(found, data, reason_end).substr(4);
      std::string stream;
      XdrWriter writer(stream);
      std::size_t step = 1;
      for (std::size_t at = 0; at < whole.size(); at += step, step = step * 2 + 1) {
        const auto part = whole.substr(at, step);
        writer.u32(0);
        writer.u32(static_cast<std::uint32_t>(part.size()));
        stream += part;
      }
      writer.u32(0x80000000);
      return stream;
    });
    auto session = co_await opened(timeline, instrument);
    CHECK((co_await session->query("x?", generous) == data));
    CHECK((co_await session->query("x?", generous) == data));
  });
}

TEST_CASE("vxi11 client: an indefinite block is taken up to END", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    answer(instrument, Procedure::device_read,
           [](const FoundCall& found) { return test::reply_data(found, "1,#0a\nb;\n\n", reason_end); });
    auto session = co_await opened(timeline, instrument);
    CHECK(co_await session->query("x?", generous) == "1,#0a\nb;\n");
  });
}

TEST_CASE("vxi11 client: clearing ends the call under way first, then clears, on the same connection", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    auto session = co_await opened(timeline, instrument);
    co_await ask_in_vain(*session, instrument);
    CHECK(co_await session->query("y?", generous) == "answer to y?");
    REQUIRE(instrument.state->calls.size() == 4);
    CHECK(instrument.state->calls[0].program == abort_program);
    CHECK(instrument.state->calls[0].procedure == Procedure::device_abort);
    CHECK(instrument.state->calls[1].procedure == Procedure::device_clear);
    CHECK(instrument.count(Procedure::create_link) == 0);
  });
}

TEST_CASE("vxi11 client: where aborting or clearing is refused, the connection is opened anew", "[transport]") {
  for (const auto procedure : {Procedure::device_abort, Procedure::device_clear}) {
    for (const auto error : {DeviceError::not_supported, DeviceError::invalid_link, DeviceError::io}) {
      with_instrument([&](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
        CAPTURE(static_cast<int>(procedure), static_cast<int>(error));
        auto session = co_await opened(timeline, instrument);
        co_await ask_in_vain(*session, instrument);
        bool refuse = true;
        answer(instrument, procedure, [&](const FoundCall& found) {
          return test::reply_error(found, std::exchange(refuse, false) ? error : DeviceError::none);
        });
        CHECK(co_await session->query("y?", generous) == "answer to y?");
        CHECK(instrument.count(Procedure::create_link) == 1);
      });
    }
  }
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

TEST_CASE("vxi11 client: an instrument locked by someone else says so, and nothing has to be cleared", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    answer(instrument, Procedure::device_write,
           [](const FoundCall& found) { return test::reply_with(found, Written{DeviceError::locked, 0}); });
    auto session = co_await opened(timeline, instrument);
    const auto error = co_await error_of_query(*session, generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::no_connection);
    CHECK_THAT(error->message, Catch::Contains("locked by another link"));
    CHECK_FALSE(session->dirty());
  });
}

TEST_CASE("vxi11 client: trigger and serial poll become *TRG and *STB? where the instrument has none", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    answer(instrument, Procedure::device_trigger,
           [](const FoundCall& found) { return test::reply_error(found, DeviceError::not_supported); });
    // One that does not even know the procedure (RFC 5531: PROC_UNAVAIL).
    answer(instrument, Procedure::device_readstb, [](const FoundCall& found) {
      std::string record;
      begin_record(record);
      append_reply(record, found.call.xid, AcceptState::procedure_unavailable);
      end_record(record);
      return record;
    });
    answer(instrument, Procedure::device_read,
           [](const FoundCall& found) { return test::reply_data(found, "36\n", reason_end); });
    auto session = co_await opened(timeline, instrument);
    co_await session->trigger(generous);
    CHECK(instrument.state->message == "*TRG\n");
    CHECK(int{co_await session->status_byte(generous)} == 36);
    CHECK(instrument.state->message == "*STB?\n");
  });
}

TEST_CASE("vxi11 client: a back-connection that fails is told apart, and the session stays usable", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    answer(instrument, Procedure::create_intr_chan,
           [](const FoundCall& found) { return test::reply_error(found, DeviceError::channel_not_established); });
    auto session = co_await opened(timeline, instrument);
    const auto error = co_await error_in([&]() -> task<> { co_await session->wait_for_service(generous); });
    REQUIRE(error);
    CHECK_THAT(error->message, Catch::StartsWith("the instrument cannot connect back to 127.0.0.1 port "));
    CHECK_THAT(error->advice, Catch::Contains("firewall"));
    CHECK(co_await session->query("y?", generous) == "answer to y?");
  });
}

TEST_CASE("vxi11 client: a second channel that the instrument reports as established is accepted", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    answer(instrument, Procedure::create_intr_chan,
           [](const FoundCall& found) { return test::reply_error(found, DeviceError::channel_established); });
    auto session = co_await opened(timeline, instrument);
    while (instrument.count(Procedure::device_enable_srq) == 0)
      CHECK_FALSE(co_await session->wait_for_service(short_wait));
    CHECK(co_await session->query("y?", generous) == "answer to y?");
  });
}

TEST_CASE("vxi11 client: what the carrier lacks is refused by name", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    auto session = co_await opened(timeline, instrument);
    const auto shared = co_await error_in([&] { return session->lock("key", generous); });
    REQUIRE(shared);
    CHECK_THAT(shared->message, Catch::Contains("shared locks"));
    const auto lockout = co_await error_in([&] { return session->remote_local(RemoteLocal::lockout, generous); });
    REQUIRE(lockout);
    CHECK_THAT(lockout->message, Catch::Contains("local lockout"));
    CHECK_FALSE(session->dirty());
  });
}

TEST_CASE("vxi11 client: a lock is taken again when the connection is opened anew", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    auto session = co_await opened(timeline, instrument);
    co_await session->lock("", generous);
    instrument.state->closes = true;
    instrument.state->most_sent = instrument.state->sent;
    REQUIRE(co_await error_of_query(*session, generous));
    instrument.state->most_sent = std::numeric_limits<std::size_t>::max();
    instrument.state->calls.clear();
    CHECK(co_await session->query("y?", generous) == "answer to y?");
    for (const auto& call : instrument.state->calls) {
      if (call.procedure != Procedure::create_link) continue;
      CreateLink created;
      XdrReader reader(call.arguments);
      read(reader, created);
      CHECK(created.lock_device);
    }
  });
}

TEST_CASE("vxi11 client: closing destroys the link without waiting for a reply", "[transport]") {
  with_instrument([](base::Timeline& timeline, ScriptedInstrument& instrument) -> task<> {
    auto session = co_await opened(timeline, instrument);
    session->close();
    while (instrument.count(Procedure::destroy_link) == 0) co_await timeline.sleep(1ms);
    while (instrument.core.clients() > 0) co_await timeline.sleep(1ms);
    CHECK(instrument.count(Procedure::destroy_link) == 1);
  });
}
