// SPDX-License-Identifier: Apache-2.0
// What only VXI-11 does with messages and answers; what all transports share is in tests/contract. Rules: VXI-11
// rev 1.0, section B.6.
#include "instruments/transport/vxi11/client.hpp"

#include "tests/instruments/transport/vxi11/scripted_client.hpp"

using namespace eyelevel;
using namespace eyelevel::test;
using namespace eyelevel::transport;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;

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
