// SPDX-License-Identifier: Apache-2.0
// What VXI-11 does beside the messages: triggers, serial polls, service requests, locks, closing.
#include "instruments/transport/vxi11/client.hpp"

#include "tests/instruments/transport/vxi11/scripted_client.hpp"

using namespace eyelevel;
using namespace eyelevel::test;
using namespace eyelevel::transport;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;

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
