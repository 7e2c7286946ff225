// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/client.hpp"

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

namespace {

using Messages = std::vector<std::string>;
constexpr base::Duration within = 20s;

// A test's main coroutine; the port outlives it.
using Body = task<> (*)(test::SimulatedPort&);
void run(Body body, ServerOptions options = {}) {
  test::SimulatedPort port(std::move(options));
  port.sim.run(body(port));
}

ServerOptions without_usb488() {
  ServerOptions options;
  options.endpoints.is_usb488 = false;
  options.endpoints.interrupt_in = 0;
  options.capabilities = {.bcd_usbtmc = 0x0100};
  return options;
}

ServerOptions without_interrupts() {
  ServerOptions options;
  options.endpoints.interrupt_in = 0;
  return options;
}

}  // namespace

TEST_CASE(
    "usbtmc client: answers of every size around packets and pieces arrive whole, with the empty packet and "
    "without",
    "[usbtmc]") {
  auto body = [](test::SimulatedPort& port) -> task<> {
    for (const bool ends_short : {true, false}) {
      for (const std::uint32_t piece : {64U, 500U, 512U, 1U << 20U}) {
        const auto session = co_await port.session({.most_request_bytes = piece});
        port.now().in_transfer = [=](InTransfer& transfer) { transfer.ends_short = ends_short; };
        const std::size_t most = piece < 500 ? 600 : 5200;
        for (std::size_t edge = 64; edge <= most; edge += edge < 512 ? 64 : 512) {
          // Header and NL stand beside the text in the packets.
          for (const int off : {-14, -13, -12, -1, 0, 1}) {
            const std::size_t size = edge + static_cast<std::size_t>(64 + off) - 64;
            CAPTURE(ends_short, piece, size);
            const auto message = "TEXT? " + std::to_string(size);
            const auto outcome = co_await test::query(*session, message, within);
            REQUIRE_FALSE(outcome.error);
            REQUIRE((outcome.answer == std::string(size, 'x')));
          }
        }
      }
    }
  };
  for (const std::size_t packet : {std::size_t{64}, std::size_t{512}, std::size_t{1024}}) {
    CAPTURE(packet);
    ServerOptions options;
    options.endpoints.bulk_in_packet_bytes = packet;
    run(body, options);
  }
}

TEST_CASE("usbtmc client: an answer cut at any byte is an error, and the next one is right", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    std::vector<std::size_t> cuts;
    for (std::size_t i = 0; i < 40; ++i) cuts.push_back(i);
    for (const std::size_t i : {510U, 511U, 512U, 513U, 1023U, 1024U, 1025U, 1535U, 1536U}) cuts.push_back(i);
    for (const std::size_t cut : cuts) {
      for (const bool ends_short : {true, false}) {
        CAPTURE(cut, ends_short);
        port.now().in_transfer = [=, done = false](InTransfer& transfer) mutable {
          if (std::exchange(done, true)) return;
          transfer.bytes.resize(cut);
          transfer.ends_short = ends_short;
        };
        const auto outcome = co_await test::query(*session, "TEXT? 2000", 1s);
        REQUIRE(outcome.error);
        CHECK(outcome.answer.empty());
        CHECK((co_await test::query(*session, "next?", within)).answer == "answer to next?");
      }
    }
  });
}

TEST_CASE("usbtmc client: an answer of a class request cut at any byte never hangs, and the link recovers",
          "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    for (const Request request : {Request::initiate_abort_bulk_in, Request::check_abort_bulk_in_status,
                                  Request::initiate_clear, Request::check_clear_status}) {
      for (std::size_t cut = 0; cut < 8; ++cut) {
        CAPTURE(name_of(request), cut);
        port.now().control = [=](Request asked, const Setup&) -> std::optional<ControlReply> {
          if (asked != request) return std::nullopt;
          return ControlReply{Handshake::ack, std::string(cut, '\1')};
        };
        REQUIRE((co_await test::query(*session, "SLOW? 3600000", 1s)).error);
        const auto second = co_await test::query(*session, "second?", within);
        port.now() = {};
        const auto third = co_await test::query(*session, "third?", within);
        if (third.error) FAIL(base::describe(*third.error));
        CHECK(third.answer == "answer to third?");
        if (!second.error) CHECK(second.answer == "answer to second?");
      }
    }
  });
}

TEST_CASE("usbtmc client: an instrument that is silent at any step ends in an error at the deadline", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    for (int step = 0; step < 2; ++step) {  // the message, the request for its answer
      port.now().bulk_out = [step, at = 0](std::string_view) mutable -> std::optional<Handshake> {
        if (at++ < step) return std::nullopt;
        return Handshake::nak;
      };
      const auto begun = port.sim.timeline->now();
      const auto outcome = co_await test::query(*session, "first?", 1s);
      REQUIRE(outcome.error);
      CHECK(outcome.error->code == base::ErrorCode::time_out);
      CHECK(port.sim.timeline->now() - begun == 1s);
      port.now() = {};
      CHECK((co_await test::query(*session, "next?", within)).answer == "answer to next?");
    }
  });
}

TEST_CASE("usbtmc client: long messages go out in pieces of the stated size, EOM with the last", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session({.most_out_bytes = 10});
    std::vector<std::pair<std::uint32_t, bool>> transfers;
    port.now().bulk_out = [&](std::string_view transfer) -> std::optional<Handshake> {
      const auto header = read_header(transfer);
      if (header && header->msg_id == 1) transfers.emplace_back(header->transfer_size, header->attributes == eom_bit);
      return std::nullopt;
    };
    const std::string message(25, 'm');
    co_await session->write(message, within);
    CHECK(transfers == std::vector<std::pair<std::uint32_t, bool>>{{9, false}, {9, false}, {8, true}});
    co_await session->query("done?", within);
    CHECK(port.device->messages == Messages{message, "done?"});
  });
}

TEST_CASE("usbtmc client: a trigger is TRIGGER where it is known, else *TRG", "[usbtmc]") {
  auto body = [](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    co_await session->trigger(within);
    co_await session->query("done?", within);
  };
  test::SimulatedPort knows;
  knows.sim.run(body(knows));
  CHECK(knows.device->messages == Messages{"(trigger)", "done?"});
  test::SimulatedPort plain(without_usb488());
  plain.sim.run(body(plain));
  CHECK(plain.device->messages == Messages{"*TRG", "done?"});
}

TEST_CASE("usbtmc client: GET_CAPABILITIES that stalls, is short or never answered means no capabilities", "[usbtmc]") {
  for (const auto& reply : {ControlReply{Handshake::stall, {}}, ControlReply{Handshake::ack, "\x01"},
                            ControlReply{Handshake::ack, {}}, ControlReply{Handshake::nak, {}}}) {
    test::SimulatedPort port;
    port.misbehaviour.control = [reply](Request request, const Setup&) -> std::optional<ControlReply> {
      if (request == Request::get_capabilities) return reply;
      return std::nullopt;
    };
    auto body = [](test::SimulatedPort& p) -> task<> {
      const auto session = co_await p.session();
      co_await session->trigger(within);
      CHECK(co_await session->query("works?", within) == "answer to works?");
    };
    port.sim.run(body(port));
    CHECK(port.device->messages == Messages{"*TRG", "works?"});
    CHECK(port.device->control.empty());  // no REN either
  }
}

TEST_CASE("usbtmc client: an interface that only talks is refused with the reason", "[usbtmc]") {
  ServerOptions options;
  options.capabilities.talk_only = true;
  run(
      [](test::SimulatedPort& port) -> task<> {
        try {
          co_await port.session();
          FAIL_CHECK("opened");
        } catch (const TransportError& error) {
          CHECK_THAT(error.record().message, Catch::Contains("only talks"));
        }
      },
      options);
}

TEST_CASE("usbtmc client: the status byte comes by interrupt, in the answer, or from *STB?", "[usbtmc]") {
  auto body = [](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    for (int i = 0; i < 200; ++i) REQUIRE(int{co_await session->status_byte(within)} == 4);  // tags go round
  };
  run(body);
  run(body, without_interrupts());
  run(body, without_usb488());
}

TEST_CASE("usbtmc client: READ_STATUS_BYTE that is busy, unknown, failing or wrongly answered", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    const auto reply = [&](int times, ControlReply with) {
      port.now().control = [left = times, with](Request request, const Setup&) mutable -> std::optional<ControlReply> {
        if (request != Request::read_status_byte || left-- <= 0) return std::nullopt;
        return with;
      };
    };
    const std::string busy("\x20\0\0", 3);
    reply(3, {Handshake::ack, busy});
    CHECK(int{co_await session->status_byte(within)} == 4);
    reply(1000, {Handshake::ack, busy});
    CHECK_THROWS_WITH(co_await session->status_byte(within), Catch::Contains("STATUS_INTERRUPT_IN_BUSY 10 times"));
    reply(1, {Handshake::ack, std::string("\x80\0\0", 3)});
    CHECK_THROWS_WITH(co_await session->status_byte(within), Catch::Contains("READ_STATUS_BYTE: STATUS_FAILED"));
    // Answered, but nothing comes by interrupt.
    reply(1, {Handshake::ack, std::string("\x01\0\0", 3)});
    CHECK_THROWS_WITH(co_await session->status_byte(1s), Catch::Contains("within 1.00 s"));
    CHECK(int{co_await session->status_byte(within)} == 4);
    CHECK(port.device->messages.empty());
    reply(1, {Handshake::stall, {}});
    CHECK(int{co_await session->status_byte(within)} == 4);
    CHECK(int{co_await session->status_byte(within)} == 4);
    CHECK(port.device->messages == Messages{"*STB?", "*STB?"});  // it is not asked again for what it does not know
  });
}

TEST_CASE("usbtmc client: a status byte in the answer despite Interrupt-IN is taken when that is known", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session({.status_in_answer = true});
    port.now().control = [](Request request, const Setup& setup) -> std::optional<ControlReply> {
      if (request != Request::read_status_byte) return std::nullopt;
      return ControlReply{Handshake::ack, {'\1', static_cast<char>(setup.value), '\x30'}};
    };
    CHECK(int{co_await session->status_byte(within)} == 0x30);
  });
}

TEST_CASE("usbtmc client: a service request is told, and the next poll shows RQS once", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    port.device->ask_for_service();
    CHECK(co_await session->wait_for_service(within));
    CHECK(int{co_await session->status_byte(within)} == 0x44);
    CHECK(int{co_await session->status_byte(within)} == 0x04);
    // Without its status byte, as met in the field; and after packets that mean nothing.
    port.now().interrupt_packet = [](std::string& packet) { packet.resize(1); };
    port.device->ask_for_service();
    CHECK(co_await session->wait_for_service(within));
    CHECK_FALSE(co_await session->wait_for_service(1s));
  });
}

TEST_CASE("usbtmc client: without Interrupt-IN service requests are refused by name", "[usbtmc]") {
  run(
      [](test::SimulatedPort& port) -> task<> {
        const auto session = co_await port.session();
        CHECK_THROWS_WITH(co_await session->wait_for_service(within), Catch::Contains("no Interrupt-IN endpoint"));
        CHECK_FALSE(session->dirty());
      },
      without_interrupts());
}

TEST_CASE("usbtmc client: REN is asserted on opening where it is known, and lockout follows it", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    co_await session->remote_local(RemoteLocal::local, within);
    co_await session->remote_local(RemoteLocal::lockout, within);
    CHECK(port.device->control ==
          std::vector{RemoteLocal::remote, RemoteLocal::local, RemoteLocal::remote, RemoteLocal::lockout});
  });
  run(
      [](test::SimulatedPort& port) -> task<> {
        const auto session = co_await port.session();
        CHECK_THROWS_WITH(co_await session->remote_local(RemoteLocal::local, within), Catch::Contains("no remote"));
      },
      without_usb488());
}

TEST_CASE("usbtmc client: an instrument that needs a pause between messages gets it", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session({.pause_between_messages = 50ms});
    const auto begun = port.sim.timeline->now();
    for (int i = 0; i < 4; ++i) co_await session->query("next?", within);
    CHECK(port.sim.timeline->now() - begun >= 150ms);
  });
}

TEST_CASE("usbtmc client: what a program left behind that died in a read does not disturb the next one", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    {
      const auto dead = co_await connect(*port.sim.timeline, port.name, port.open(), {});
      co_await dead->write("SLOW? 1000");
      Buffer answer;
      CHECK_FALSE(co_await base::finished_within(*port.sim.timeline, 10ms, dead->read(answer)));
    }
    const auto session = co_await port.session();
    CHECK(co_await session->query("next?", within) == "answer to next?");
    co_await port.sim.timeline->sleep(2s);
    CHECK(co_await session->query("again?", within) == "answer to again?");
    // With a clear on opening the same, and the instrument has forgotten what it was asked.
    const auto second = co_await port.session({.clear_on_open = true});
    CHECK(port.device->clears == 1);
    CHECK(co_await second->query("next?", within) == "answer to next?");
  });
}

TEST_CASE("usbtmc client: a lock is its own, taken once, and never shared", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    CHECK_THROWS_WITH(co_await session->lock("key", within), Catch::Contains("one program at a time"));
    CHECK_THROWS_WITH(co_await session->unlock(within), Catch::Contains("no lock is held"));
    co_await session->lock("", within);
    CHECK_THROWS_WITH(co_await session->lock("", within), Catch::Contains("held already"));
    co_await session->unlock(within);
  });
}

TEST_CASE("usbtmc client: an answer longer than the limit is refused before it is stored", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto link = co_await connect(*port.sim.timeline, port.name, port.open(), {});
    co_await link->write("TEXT? 100000");
    Buffer answer;
    CHECK_THROWS_WITH(co_await link->read(answer, 1000), Catch::Contains("more than the limit of 1000 bytes"));
    CHECK(answer.size() < 1000);
    co_await link->clear();
    co_await link->write("next?");
    co_await link->read(answer, 1000);
    CHECK(answer == "answer to next?");
  });
}

TEST_CASE("usbtmc client: the caller's buffer is filled in place and keeps its capacity", "[usbtmc]") {
  run([](test::SimulatedPort& port) -> task<> {
    const auto session = co_await port.session();
    Buffer answer;
    co_await session->query("BLOC? 3000000", answer, within);
    const char* const place = answer.data();
    for (int i = 0; i < 3; ++i) {
      co_await session->query("BLOC? 3000000", answer, within);
      CHECK(answer.data() == place);
      CHECK(answer.size() == 3000009);
    }
  });
}

TEST_CASE("usbtmc client: what an instrument needs is done again when it was unplugged and plugged in", "[usbtmc]") {
  struct Seen {
    std::uint32_t most_asked_bytes = 0;
    int capability_requests = 0;
  } seen;
  auto body = [](test::SimulatedPort& port, const Seen& seen) -> task<> {
    // It knows REN and does not say so, and loses what comes before a clear.
    const auto session = co_await port.session({.most_request_bytes = 64,
                                                .no_capabilities = true,
                                                .clear_on_open = true,
                                                .assert_remote = true,
                                                .pause_between_messages = 50ms});
    CHECK(port.device->clears == 1);
    CHECK(port.device->control == std::vector{RemoteLocal::remote});
    port.server->unplug();
    const auto lost = co_await test::query(*session, "lost?", within);
    REQUIRE(lost.error);
    CHECK(lost.error->code == base::ErrorCode::connection_lost);
    const auto found = co_await test::query(*session, "TEXT? 1000", within);
    CHECK(port.openings == 2);
    CHECK(found.answer == std::string(1000, 'x'));
    CHECK(port.device->clears == 2);
    CHECK(port.device->control == std::vector{RemoteLocal::remote, RemoteLocal::remote});
    const auto begun = port.sim.timeline->now();
    for (int i = 0; i < 3; ++i) co_await session->query("next?", within);
    CHECK(port.sim.timeline->now() - begun >= 100ms);
    // Small requests, and no question about capabilities, on this plugging in too.
    CHECK(seen.most_asked_bytes == 64);
    CHECK(seen.capability_requests == 0);
  };
  test::SimulatedPort port;
  port.misbehaviour.bulk_out = [&seen](std::string_view transfer) -> std::optional<Handshake> {
    const auto header = read_header(transfer);
    if (header && header->msg_id == static_cast<std::uint8_t>(MsgId::request_dev_dep_msg_in))
      seen.most_asked_bytes = std::max(seen.most_asked_bytes, header->transfer_size);
    return std::nullopt;
  };
  port.misbehaviour.control = [&seen](Request request, const Setup&) -> std::optional<ControlReply> {
    if (request == Request::get_capabilities) ++seen.capability_requests;
    return std::nullopt;
  };
  port.sim.run(body(port, seen));
}
