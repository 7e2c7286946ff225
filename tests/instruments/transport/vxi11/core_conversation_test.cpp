// SPDX-License-Identifier: Apache-2.0
// The server call by call: each error of the table in VXI-11 rev 1.0, section B, reasons, locks, the abort channel, and
// the faults of the message exchange (IEEE 488.2, chapter 6).
#include "instruments/transport/vxi11/core_conversation.hpp"

#include <catch2/catch.hpp>

#include <functional>

#include "core/base/deadline.hpp"
#include "core/base/gong.hpp"
#include "instruments/transport/vxi11/listener.hpp"
#include "instruments/transport/vxi11/server.hpp"
#include "tests/instruments/transport/vxi11/raw_client.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;
using test::RawClient;

namespace {

// Answers a query with itself; "WAIT? n" after n milliseconds; anything else is a command.
class EchoDevice final : public Device {
 public:
  explicit EchoDevice(base::Timeline& timeline) : timeline_(timeline) {}
  task<> execute(std::string_view message, Reply& reply) override {
    messages.emplace_back(message);
    if (message.starts_with("WAIT? "))
      co_await timeline_.sleep(std::chrono::milliseconds(std::stoi(std::string(message.substr(6)))));
    if (message.find('?') != std::string_view::npos) reply.bytes = message;
  }
  void clear() override { ++clears; }
  std::uint8_t serial_poll(bool message_available) override { return message_available ? 0x10 : 0; }
  void query_error(int number) override { query_errors.push_back(number); }
  void remote_local(RemoteLocal what) override { control.push_back(what); }

  std::vector<std::string> messages;
  std::vector<int> query_errors;
  std::vector<RemoteLocal> control;
  int clears = 0;

 private:
  base::Timeline& timeline_;
};

struct Bench {
  base::Timeline& timeline;
  Vxi11Server& server;
  EchoDevice& device;
};
using Body = std::function<task<>(Bench)>;

task<> served(base::Timeline& timeline, Listen listen, const Body& body) {
  auto device = std::make_shared<EchoDevice>(timeline);
  auto other = std::make_shared<EchoDevice>(timeline);
  Vxi11Server server(co_await boost::asio::this_coro::executor, timeline, {{"inst0", device}, {"inst1", other}},
                     listen);
  co_await body({timeline, server, *device});
}

void with_server(const Body& body, Listen listen = {}) {
  test::Wall wall;
  wall.run(served(*wall.timeline, listen, body));
}

std::int32_t number(DeviceError error) { return static_cast<std::int32_t>(error); }

}  // namespace

TEST_CASE("vxi11 core: link ids begin at 0, are unique in the server, and tell the abort port and the receive size",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto first = co_await RawClient::connect(bench.server.core_port());
    const auto second = co_await RawClient::connect(bench.server.core_port());
    const auto a = co_await first->create_link();
    const auto b = co_await second->create_link();
    const auto c = co_await first->create_link("INST1");
    CHECK(a.error == DeviceError::none);
    CHECK(a.link == 0);
    CHECK(b.link == 1);
    CHECK(c.link == 2);
    CHECK(a.abort_port == bench.server.abort_port());
    CHECK(a.most_receive_bytes == 1U << 20U);
    CHECK(bench.server.links() == 3);
  });
}

TEST_CASE("vxi11 core: an unknown device is 3, too many links are 9", "[transport]") {
  Listen listen;
  listen.most_links = 2;
  with_server(
      [](Bench bench) -> task<> {
        const auto client = co_await RawClient::connect(bench.server.core_port());
        CHECK((co_await client->create_link("inst7")).error == DeviceError::not_accessible);
        CHECK((co_await client->create_link("")).error == DeviceError::not_accessible);
        const auto first = co_await client->create_link();
        CHECK((co_await client->create_link()).error == DeviceError::none);
        CHECK((co_await client->create_link()).error == DeviceError::out_of_resources);
        CHECK(co_await client->error_of_link(Procedure::destroy_link, first.link) == 0);
        CHECK((co_await client->create_link()).error == DeviceError::none);
      },
      listen);
}

TEST_CASE("vxi11 core: every procedure answers 4 to a link that is not this client's", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto owner = co_await RawClient::connect(bench.server.core_port());
    const auto theirs = (co_await owner->create_link()).link;
    const auto client = co_await RawClient::connect(bench.server.core_port());
    for (const std::int32_t link : {theirs, -1, 99}) {
      CAPTURE(link);
      const auto invalid = number(DeviceError::invalid_link);
      CHECK((co_await client->write(link, "x")).error == DeviceError::invalid_link);
      CHECK((co_await client->read(link)).error == invalid);
      for (const auto procedure : {Procedure::device_readstb, Procedure::device_trigger, Procedure::device_clear,
                                   Procedure::device_remote, Procedure::device_local})
        CHECK(co_await client->error_of(procedure, Generic{.link = link}) == invalid);
      CHECK(co_await client->error_of(Procedure::device_lock, Lock{.link = link}) == invalid);
      CHECK(co_await client->error_of_link(Procedure::device_unlock, link) == invalid);
      CHECK(co_await client->error_of(Procedure::device_enable_srq, EnableRequests{.link = link}) == invalid);
      CHECK(co_await client->error_of_link(Procedure::destroy_link, link) == invalid);
    }
  });
}

TEST_CASE("vxi11 core: a write beyond the announced size is 5; pieces are joined up to END; empty data does nothing",
          "[transport]") {
  Listen listen;
  listen.most_receive_bytes = 1024;
  with_server(
      [](Bench bench) -> task<> {
        const auto client = co_await RawClient::connect(bench.server.core_port());
        const auto link = (co_await client->create_link()).link;
        CHECK((co_await client->write(link, std::string(1025, 'x'))).error == DeviceError::parameter);
        const auto written = co_await client->write(link, std::string(1024, 'x'), 0);
        CHECK(written.error == DeviceError::none);
        CHECK(written.bytes == 1024);
        CHECK((co_await client->write(link, "", 0)).error == DeviceError::none);
        CHECK((co_await client->write(link, "?")).bytes == 1);
        CHECK((co_await client->write(link, "")).bytes == 0);
        const auto got = co_await client->read(link, 4000);
        CHECK((got == RawClient::Got{0, reason_end, std::string(1024, 'x') + "?\n"}));
        CHECK(bench.device.messages.size() == 1);
      },
      listen);
}

TEST_CASE("vxi11 core: reads stop at the count, at the character or at END, and say which", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await client->create_link()).link;
    co_await client->write(link, "a,bc?");
    CHECK((co_await client->read(link, 0) == RawClient::Got{0, reason_count, ""}));
    CHECK((co_await client->read({.link = link, .most_bytes = 100, .flags = flag_term_char, .term_char = ','}) ==
           RawClient::Got{0, reason_char, "a,"}));
    CHECK((co_await client->read(link, 2) == RawClient::Got{0, reason_count, "bc"}));
    // The count and the end at once.
    CHECK((co_await client->read(link, 2) == RawClient::Got{0, reason_count | reason_end, "?\n"}));
    co_await client->write(link, "d?");
    // A character that does not come, and one that is the end.
    CHECK((co_await client->read({.link = link, .most_bytes = 1, .flags = flag_term_char, .term_char = ','}) ==
           RawClient::Got{0, reason_count, "d"}));
    CHECK((co_await client->read({.link = link, .most_bytes = 9, .flags = flag_term_char, .term_char = '\n'}) ==
           RawClient::Got{0, reason_char | reason_end, "?\n"}));
    CHECK(bench.device.query_errors.empty());
  });
}

TEST_CASE("vxi11 core: an instrument with a small buffer gives an answer in parts without reason", "[transport]") {
  Listen listen;
  listen.most_read_bytes = 3;
  with_server(
      [](Bench bench) -> task<> {
        const auto client = co_await RawClient::connect(bench.server.core_port());
        const auto link = (co_await client->create_link()).link;
        co_await client->write(link, "abcd?");
        CHECK((co_await client->read(link) == RawClient::Got{0, 0, "abc"}));
        CHECK((co_await client->read(link) == RawClient::Got{0, reason_end, "d?\n"}));
      },
      listen);
}

TEST_CASE("vxi11 core: a read with nothing to say is UNTERMINATED, silent for its time, then 15", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await client->create_link()).link;
    co_await client->write(link, "half a mess", 0);
    const auto begun = bench.timeline.now();
    CHECK((co_await client->read(link, 100, 20) == RawClient::Got{15, 0, ""}));
    CHECK(bench.timeline.now() - begun >= 20ms);
    CHECK(bench.device.query_errors == std::vector<int>{-420});
    // The half message is discarded (6.5.7).
    co_await client->write(link, "whole?");
    CHECK((co_await client->read(link) == RawClient::Got{0, reason_end, "whole?\n"}));
    // A command that answers nothing, then a query that takes its time: neither the one nor the other is an answer.
    co_await client->write(link, "COMMAND");
    CHECK((co_await client->read(link, 100, 10)).error == 15);
    co_await client->write(link, "WAIT? 400");
    CHECK((co_await client->read(link, 100, 5)).error == 15);
    CHECK((co_await client->read(link)).data == "WAIT? 400\n");
    CHECK(bench.device.query_errors == std::vector<int>{-420, -420});
  });
}

TEST_CASE("vxi11 core: a message that comes while an answer is unread is INTERRUPTED, and the answer is dropped",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await client->create_link()).link;
    co_await client->write(link, "first?");
    CHECK((co_await client->read(link, 3)).data == "fir");
    co_await client->write(link, "second?");
    CHECK((co_await client->read(link)).data == "second?\n");
    CHECK(bench.device.query_errors == std::vector<int>{-410});
    // The message was there before the answer was.
    co_await client->write(link, "WAIT? 20");
    co_await client->write(link, "third?");
    CHECK((co_await client->read(link)).data == "third?\n");
    CHECK(bench.device.query_errors == std::vector<int>{-410, -410});
  });
}

TEST_CASE("vxi11 core: NL ends a program message as END does, but not inside a block", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await client->create_link()).link;
    co_await client->write(link, "one\ntwo\n", 0);
    co_await client->write(link, "three #13a\nb");
    co_await client->write(link, "four\r\n");
    CHECK(bench.device.messages == std::vector<std::string>{"one", "two", "three #13a\nb", "four"});
  });
}

TEST_CASE("vxi11 core: poll, trigger, clear, remote and local reach the device", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await client->create_link()).link;
    const auto status = [&]() -> task<std::uint32_t> {
      std::string bytes;
      append(bytes, Generic{.link = link});
      const auto results = co_await client->rpc.call(13, std::move(bytes));
      XdrReader reader(results);
      StatusByte polled;
      read(reader, polled);
      co_return polled.status;
    };
    CHECK(co_await status() == 0);
    co_await client->write(link, "x?");
    CHECK(co_await status() == 0x10);  // MAV: an answer waits (IEEE 488.2, 11.2.1.2)
    CHECK(co_await client->error_of(Procedure::device_clear, Generic{.link = link}) == 0);
    CHECK(bench.device.clears == 1);
    CHECK(co_await status() == 0);
    CHECK(co_await client->error_of(Procedure::device_trigger, Generic{.link = link}) == 0);
    CHECK(bench.device.messages == std::vector<std::string>{"x?", "*TRG"});
    CHECK(co_await client->error_of(Procedure::device_remote, Generic{.link = link}) == 0);
    CHECK(co_await client->error_of(Procedure::device_local, Generic{.link = link}) == 0);
    CHECK(bench.device.control == std::vector<RemoteLocal>{RemoteLocal::remote, RemoteLocal::local});
    CHECK(bench.device.query_errors.empty());
  });
}

TEST_CASE("vxi11 core: a device clear forgets what is executed, and its answer never comes", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await client->create_link()).link;
    co_await client->write(link, "WAIT? 10");
    co_await client->write(link, "half", 0);
    CHECK(co_await client->error_of(Procedure::device_clear, Generic{.link = link}) == 0);
    co_await bench.timeline.sleep(20ms);
    co_await client->write(link, "next?");
    CHECK((co_await client->read(link)).data == "next?\n");
    CHECK(bench.device.query_errors.empty());
  });
}

TEST_CASE("vxi11 core: a lock shuts others out with 11, at once or after the time they wait", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto holder = co_await RawClient::connect(bench.server.core_port());
    const auto other = co_await RawClient::connect(bench.server.core_port());
    const auto held = (co_await holder->create_link()).link;
    const auto link = (co_await other->create_link()).link;
    const auto elsewhere = (co_await other->create_link("inst1")).link;
    const auto locked = number(DeviceError::locked);
    CHECK(co_await holder->error_of_link(Procedure::device_unlock, held) == number(DeviceError::no_lock));
    CHECK(co_await holder->error_of(Procedure::device_lock, Lock{.link = held}) == 0);
    CHECK(co_await holder->error_of(Procedure::device_lock, Lock{.link = held}) == locked);  // has it already
    CHECK((co_await other->write(link, "x?")).error == DeviceError::locked);
    CHECK((co_await other->read(link)).error == locked);
    for (const auto procedure : {Procedure::device_readstb, Procedure::device_trigger, Procedure::device_clear,
                                 Procedure::device_remote, Procedure::device_local})
      CHECK(co_await other->error_of(procedure, Generic{.link = link}) == locked);
    CHECK(co_await other->error_of(Procedure::device_lock, Lock{.link = link}) == locked);
    CHECK(co_await other->error_of_link(Procedure::device_unlock, link) == number(DeviceError::no_lock));
    CHECK((co_await other->create_link("inst0", true, 5)).error == DeviceError::locked);
    CHECK((co_await other->write(elsewhere, "x")).error == DeviceError::none);
    const auto begun = bench.timeline.now();
    CHECK((co_await other->write(link, "x?", flag_end | flag_wait_lock, 20)).error == DeviceError::locked);
    CHECK(bench.timeline.now() - begun >= 20ms);
    CHECK((co_await holder->write(held, "mine?")).error == DeviceError::none);
    CHECK(bench.device.messages == std::vector<std::string>{"mine?"});
    CHECK(co_await holder->error_of_link(Procedure::device_unlock, held) == 0);
    CHECK((co_await other->write(link, "now?")).error == DeviceError::none);
  });
}

TEST_CASE("vxi11 core: who waits for a lock gets it when the holder's connection ends", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto holder = co_await RawClient::connect(bench.server.core_port());
    const auto held = (co_await holder->create_link("inst0", true)).link;
    CHECK(held == 0);
    const auto other = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await other->create_link()).link;
    std::string arguments;
    append(arguments, Lock{.link = link, .flags = flag_wait_lock, .lock_timeout_ms = 10000});
    co_await other->rpc.send(static_cast<std::uint32_t>(Procedure::device_lock), arguments);
    holder.reset();
    co_await other->rpc.await_reply();
    CHECK(bench.device.access.is_exclusive());
    while (bench.server.links() > 1) co_await bench.timeline.sleep(1ms);
    CHECK(bench.server.clients() == 1);
  });
}

TEST_CASE("vxi11 core: device_abort ends the call under way with 23, whether it reads or waits for a lock",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto holder = co_await RawClient::connect(bench.server.core_port());
    const auto client = co_await RawClient::connect(bench.server.core_port());
    const auto abort = co_await RawClient::connect(bench.server.abort_port(), abort_program);
    const auto link = (co_await client->create_link()).link;
    CHECK(co_await abort->error_of_link(Procedure::device_abort, 99) == number(DeviceError::invalid_link));
    // Nothing is under way: the next call is not touched.
    CHECK(co_await abort->error_of_link(Procedure::device_abort, link) == 0);
    co_await client->write(link, "x?");
    CHECK((co_await client->read(link)).data == "x?\n");

    const auto aborted = [&](Procedure procedure, std::string arguments) -> task<std::int32_t> {
      co_await client->rpc.send(static_cast<std::uint32_t>(procedure), arguments);
      // Asked until it has an effect: the call may still be on its way.
      std::string results;
      auto reply = [](RawClient& raw, std::string& into) -> task<> {
        co_await raw.rpc.await_reply();
        into.resize(4);
        co_await raw.rpc.stream.read_exactly(into.data(), 4, "the error");
      };
      do {
        CHECK(co_await abort->error_of_link(Procedure::device_abort, link) == 0);
      } while (!co_await base::finished_within(bench.timeline, 20ms, reply(*client, results)));
      XdrReader reader(results);
      co_return static_cast<std::int32_t>(read_error(reader));
    };
    std::string arguments;
    append(arguments, Read{.link = link, .most_bytes = 10, .io_timeout_ms = 60000});
    CHECK(co_await aborted(Procedure::device_read, arguments) == number(DeviceError::aborted));
    const auto held = (co_await holder->create_link("inst0", true)).link;
    CHECK(held >= 0);
    arguments.clear();
    append(arguments, Lock{.link = link, .flags = flag_wait_lock, .lock_timeout_ms = 60000});
    CHECK(co_await aborted(Procedure::device_lock, arguments) == number(DeviceError::aborted));
  });
}

TEST_CASE("vxi11 core: a client that goes away ends its call, its links and its locks", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await client->create_link("inst0", true)).link;
    co_await client->write(link, "WAIT? 3600000");
    std::string arguments;
    append(arguments, Read{.link = link, .most_bytes = 10, .io_timeout_ms = 0xFFFFFFFF});
    co_await client->rpc.send(static_cast<std::uint32_t>(Procedure::device_read), arguments);
    client.reset();
    while (bench.server.clients() + bench.server.links() > 0) co_await bench.timeline.sleep(1ms);
    CHECK_FALSE(bench.device.access.is_exclusive());
  });
}

TEST_CASE("vxi11 core: interrupt channels: errors 6, 8, 5, 21 and 29", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    constexpr std::uint32_t here = 0x7F000001;
    const auto create = [&](InterruptChannel call) { return client->error_of(Procedure::create_intr_chan, call); };
    const auto destroy = [&] { return client->error_of_bytes(Procedure::destroy_intr_chan, ""); };
    std::uint16_t unused = 0;
    {
      const Listener gone(co_await boost::asio::this_coro::executor,
                          {.address = boost::asio::ip::make_address("127.0.0.1"), .port = 0, .what = "nothing"},
                          [](boost::asio::ip::tcp::socket) -> task<> { co_return; });
      unused = gone.port();
    }
    CHECK(co_await destroy() == number(DeviceError::channel_not_established));
    CHECK(co_await create({.address = here, .port = unused}) == number(DeviceError::channel_not_established));
    CHECK(co_await create({.address = here, .port = unused, .family = InterruptChannel::udp}) ==
          number(DeviceError::not_supported));
    CHECK(co_await create({.address = here, .port = 0}) == number(DeviceError::parameter));
    CHECK(co_await create({.address = here, .port = 70000}) == number(DeviceError::parameter));
    CHECK(co_await create({.address = here + 1, .port = unused}) == number(DeviceError::invalid_address));
    CHECK(co_await create({.address = here, .port = bench.server.core_port()}) == 0);
    CHECK(co_await create({.address = here, .port = bench.server.core_port()}) ==
          number(DeviceError::channel_established));
    CHECK(co_await destroy() == 0);
    CHECK(co_await create({.address = here, .port = bench.server.core_port()}) == 0);
  });
}

TEST_CASE("vxi11 core: a server on all addresses of both kinds connects back to a client that came by IPv4",
          "[transport]") {
  boost::asio::io_context probe;
  boost::system::error_code none;
  boost::asio::ip::tcp::acceptor(probe).open(boost::asio::ip::tcp::v6(), none);
  if (none) {
    WARN("not tried: this computer has no IPv6");
    return;
  }
  Listen listen;
  listen.address = "::";
  with_server(
      [](Bench bench) -> task<> {
        const auto client = co_await RawClient::connect(bench.server.core_port());
        CHECK(co_await client->error_of(Procedure::create_intr_chan,
                                        InterruptChannel{.address = 0x7F000001, .port = bench.server.core_port()}) ==
              0);
      },
      listen);
}

TEST_CASE("vxi11 core: docmd is 8, NULL is answered, what is not there is refused", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto client = co_await RawClient::connect(bench.server.core_port());
    CHECK(co_await client->error_of_bytes(Procedure::device_docmd, "") == number(DeviceError::not_supported));
    CHECK((co_await client->rpc.call(0, "")).empty());
    const auto refusal = [](RawClient& raw, std::uint32_t procedure, std::string bytes) -> task<std::string> {
      try {
        co_await raw.rpc.call(procedure, std::move(bytes));
      } catch (const CallRefused& refused) {
        co_return refused.what();
      }
      co_return "";
    };
    CHECK(co_await refusal(*client, 99, "") == "the procedure is not available there");
    for (const std::uint32_t procedure : {10U, 11U, 12U, 13U, 18U, 19U, 20U, 23U, 25U})
      CHECK(co_await refusal(*client, procedure, "ab") == "the arguments were not understood");
    const auto other_version = co_await RawClient::connect(bench.server.core_port(), core_program, 2);
    CHECK(co_await refusal(*other_version, 0, "") == "the program is there in another version");
    const auto other_program = co_await RawClient::connect(bench.server.core_port(), abort_program);
    CHECK(co_await refusal(*other_program, 0, "") == "the program is not available there");
    const auto abort = co_await RawClient::connect(bench.server.abort_port(), abort_program);
    CHECK((co_await abort->rpc.call(0, "")).empty());
    CHECK(co_await refusal(*abort, 1, "ab") == "the arguments were not understood");
    CHECK(co_await refusal(*abort, 2, "") == "the procedure is not available there");
    const auto core_on_abort = co_await RawClient::connect(bench.server.abort_port());
    CHECK(co_await refusal(*core_on_abort, 0, "") == "the program is not available there");
  });
}

TEST_CASE("vxi11 core: hostile clients are put out without harm to others", "[transport]") {
  with_server([](Bench bench) -> task<> {
    const auto friendly = co_await RawClient::connect(bench.server.core_port());
    const auto link = (co_await friendly->create_link()).link;
    const std::vector<std::string> sendings{std::string("\xFF\xFF\xFF\xFF", 4),  // a record of 2 GB
                                            std::string(4000, '\0'),             // empty fragments
                                            std::string("\x80\x00\x00\x03"
                                                        "abc",
                                                        7),  // no call
                                            std::string("\x80\x00\x00\x08"
                                                        "\0\0\0\1\0\0\0\1",
                                                        12)};  // a reply
    for (const auto& bytes : sendings) {
      const auto hostile = co_await RawClient::connect(bench.server.core_port());
      hostile->rpc.stream.write_at_once(bytes);
      while (bench.server.clients() > 1) co_await bench.timeline.sleep(1ms);
    }
    co_await friendly->write(link, "still there?");
    CHECK((co_await friendly->read(link)).data == "still there?\n");
  });
}
