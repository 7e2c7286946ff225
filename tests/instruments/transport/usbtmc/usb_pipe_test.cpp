// SPDX-License-Identifier: Apache-2.0
// The whole way: session, protocol, libusb as it is, and a mocked port at whose far end the instrument's half answers.
#include "instruments/transport/usbtmc/usb_pipe.hpp"

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "instruments/transport/transports.hpp"
#include "tests/instruments/transport/usbtmc/mocked_port.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

namespace {

constexpr base::Duration generous = 20s;
constexpr const char* name = "USB0::0x1234::0x5678::EY-0001::0::INSTR";

struct Bench {
  Bench() { plug_in(); }

  void plug_in() {
    server = std::make_shared<UsbtmcServer>(wall.loop.get_executor(), device, ServerOptions{});
    port.plug_in(simulated_pipe(server));
  }
  task<std::unique_ptr<Session>> session() {
    const OpenPipe open = [this] { return open_interface(usb, parse_resource_name(name)); };
    co_return std::make_unique<Session>(*wall.timeline, co_await connect(*wall.timeline, name, open, {}));
  }

  test::Wall wall;
  std::shared_ptr<test::UsbInstrument> device = std::make_shared<test::UsbInstrument>(*wall.timeline);
  std::shared_ptr<UsbtmcServer> server;
  test::MockedPort port{wall.loop.get_executor()};
  std::shared_ptr<Usb> usb = std::make_shared<Usb>();
};

using Body = task<> (*)(Bench&);
void run(Body body) {
  Bench bench;
  bench.wall.run(body(bench));
}

}  // namespace

TEST_CASE("usb pipe: queries, blocks of megabytes, status byte, service requests and triggers", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    const auto session = co_await bench.session();
    CHECK(co_await session->query("*IDN?", generous) == "answer to *IDN?");
    Buffer answer;
    for (const std::size_t size : {std::size_t{0}, std::size_t{488}, std::size_t{489}, std::size_t{3'000'000}}) {
      CAPTURE(size);
      co_await session->query("BLOC? " + std::to_string(size), answer, generous);
      std::string expected;
      scpi::append_block(expected, test::bytes_of(size));
      CHECK((answer == expected));
    }
    CHECK(int{co_await session->status_byte(generous)} == 4);
    bench.device->ask_for_service();
    CHECK(co_await session->wait_for_service(generous));
    CHECK(int{co_await session->status_byte(generous)} == 0x44);
    co_await session->trigger(generous);
    CHECK(co_await session->query("next?", generous) == "answer to next?");
    CHECK(bench.device->control == std::vector{RemoteLocal::remote});
  });
}

TEST_CASE("usb pipe: after a time-out the instrument is aborted, cleared, and answers the next query", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    const auto session = co_await bench.session();
    for (int i = 0; i < 3; ++i) {
      const auto late = co_await test::query(*session, "SLOW? 200", 30ms);
      REQUIRE(late.error);
      CHECK(late.error->code == base::ErrorCode::time_out);
      CHECK(co_await session->query("next?", generous) == "answer to next?");
      CHECK(bench.device->clears == i + 1);
    }
    CHECK(bench.device->errors.empty());
    CHECK(bench.port.calls() == std::vector<std::string>{"claim"});
  });
}

TEST_CASE("usb pipe: a halted endpoint is cleared and the message repeated", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    const auto session = co_await bench.session();
    bench.server->misbehaviour().bulk_out = [left = 1](std::string_view) mutable -> std::optional<Handshake> {
      if (left-- > 0) return Handshake::stall;
      return std::nullopt;
    };
    CHECK(co_await session->query("first?", generous) == "answer to first?");
  });
}

TEST_CASE("usb pipe: a clear that fails ends in a port reset, which is told, and then all is well", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    const auto session = co_await bench.session();
    bench.server->misbehaviour().control = [](Request request, const Setup&) -> std::optional<ControlReply> {
      if (request == Request::initiate_clear) return ControlReply{Handshake::stall, {}};
      return std::nullopt;
    };
    REQUIRE((co_await test::query(*session, "SLOW? 10000", 30ms)).error);
    const auto reset = co_await test::query(*session, "next?", generous);
    REQUIRE(reset.error);
    CHECK_THAT(reset.error->message, Catch::Contains("USB port was reset"));
    const auto calls = bench.port.calls();
    CHECK(std::count(calls.begin(), calls.end(), "reset") == 1);
    CHECK(std::count(calls.begin(), calls.end(), "set configuration") == 0);
    bench.server->misbehaviour() = {};
    CHECK(co_await session->query("again?", generous) == "answer to again?");
  });
}

TEST_CASE("usb pipe: unplugged while it is asked is a lost connection; plugged in again it is opened anew",
          "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    const auto session = co_await bench.session();
    auto pull = [](Bench& b) -> task<> {
      co_await b.wall.timeline->sleep(20ms);
      b.port.unplug();
    };
    boost::asio::co_spawn(bench.wall.loop, pull(bench), [](const std::exception_ptr& error) {
      if (error) std::rethrow_exception(error);
    });
    const auto lost = co_await test::query(*session, "SLOW? 10000", generous);
    REQUIRE(lost.error);
    CHECK(lost.error->code == base::ErrorCode::connection_lost);
    CHECK_THAT(lost.error->message, Catch::Contains("unplugged or switched off"));
    const auto missing = co_await test::query(*session, "next?", generous);
    REQUIRE(missing.error);
    CHECK(missing.error->code == base::ErrorCode::no_connection);
    CHECK_THAT(missing.error->message, Catch::Contains("no such instrument is plugged in"));
    bench.plug_in();
    CHECK(co_await session->query("next?", generous) == "answer to next?");
  });
}

TEST_CASE("usb pipe: cancelled at any moment the buffer is free and the next query is right", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    const auto session = co_await bench.session();
    auto ask = [](Session& s, Buffer& into) -> task<> { co_await s.query("BLOC? 1000000", into, generous); };
    for (int i = 0; i < 10; ++i) {
      Buffer answer;
      co_await base::finished_within(*bench.wall.timeline, std::chrono::microseconds(300 * i), ask(*session, answer));
      answer = Buffer();
      CHECK(co_await session->query("next?", generous) == "answer to next?");
    }
  });
}

TEST_CASE("usb pipe: closed it gives the interface back, and can be opened again at once", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    for (int i = 0; i < 3; ++i) {
      const auto session = co_await bench.session();
      CHECK(co_await session->query("next?", generous) == "answer to next?");
      session->close();
      const auto closed = co_await test::query(*session, "anybody?", generous);
      REQUIRE(closed.error);
      CHECK(closed.error->code == base::ErrorCode::connection_lost);
    }
    bench.usb.reset();
    const auto calls = bench.port.calls();
    CHECK(std::count(calls.begin(), calls.end(), "claim") == 3);
  });
}

TEST_CASE("usb pipe: a loop that ends with transfers under way leaves nothing behind", "[usbtmc]") {
  Bench bench;
  std::unique_ptr<Session> session;  // outlives its loop's last turn
  auto main = [](Bench& b, std::unique_ptr<Session>& into) -> task<> {
    into = co_await b.session();
    REQUIRE((co_await test::query(*into, "SLOW? 10000", 20ms)).error);
  };
  bench.wall.run(main(bench, session));
  session.reset();
}

TEST_CASE("usb pipe: instruments are opened by their resource name, each with its quirks", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    Transports transports;
    std::vector<std::string> asked;
    add_usbtmc(transports, [&asked](const ResourceName& which) {
      asked.push_back(which.canonical());
      return Quirks{.clear_on_open = true};
    });
    const auto session =
        co_await transports.open_session("usb::0x1234::0x5678::EY-0001", *bench.wall.timeline, generous);
    CHECK(session->resource_name() == name);
    CHECK(asked == std::vector<std::string>{name});
    CHECK(bench.device->clears == 1);
    CHECK(co_await session->query("next?", generous) == "answer to next?");
  });
}
