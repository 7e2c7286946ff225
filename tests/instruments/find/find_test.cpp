// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "instruments/find/detail/together.hpp"
#include "instruments/find/find.hpp"
#include "instruments/find/mdns/responder.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/socket/server.hpp"
#include "tests/instruments/find/mdns/loopback.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::find;

namespace {

// Answers *IDN? with what it is given; silent when that is empty.
class Named final : public transport::Device {
 public:
  explicit Named(std::string identity) : identity_(std::move(identity)) {}
  task<> execute(std::string_view message, transport::Reply& reply) override {
    if (message == "*IDN?") reply.bytes = identity_;
    ++messages;
    co_return;
  }
  void clear() override {}
  int messages = 0;

 private:
  std::string identity_;
};

struct Bench {
  test::Wall wall;
  transport::Transports transports;
  Options options;
  std::vector<mdns::Announcement> announced;
  std::vector<std::unique_ptr<transport::socket::SocketServer>> servers;

  Bench() {
    transport::add_socket(transports);
    options.interfaces = test::loopback();
    options.listen = std::chrono::milliseconds(400);
    options.ask = std::chrono::milliseconds(800);
    options.mdns_port = test::free_port(wall.loop);
    options.portmapper_port = test::free_port(wall.loop);
  }

  std::uint16_t serve(const std::shared_ptr<Named>& device) {
    servers.push_back(std::make_unique<transport::socket::SocketServer>(wall.loop.get_executor(), device,
                                                                        transport::socket::Listen{}));
    return servers.back()->port();
  }

  Findings found() {
    Findings out;
    struct Ended {};
    std::unique_ptr<mdns::Responder> responder;
    auto look = [&]() -> task<> {
      while (responder && !responder->announced()) co_await wall.timeline->sleep(std::chrono::milliseconds(20));
      out = co_await find::find(*wall.timeline, transports, options);
      throw Ended();
    };
    auto main = [&]() -> task<> {
      std::vector<task<>> works;
      if (!announced.empty()) {
        responder = std::make_unique<mdns::Responder>(wall.loop.get_executor(), *wall.timeline, announced,
                                                      options.interfaces, options.mdns_port);
        works.push_back(responder->run());
      }
      works.push_back(look());
      try {
        co_await find::detail::together(std::move(works));
      } catch (const Ended&) {
        for (const auto& server : servers) server->stop();
      }
    };
    wall.run(main());
    return out;
  }
};

std::string socket_at(std::uint16_t port) { return "TCPIP0::127.0.0.1::" + std::to_string(port) + "::SOCKET"; }

// Of an interface other than loopback, which tests do not have: that there is none is told each time.
std::vector<Unusable> without_network(std::vector<Unusable> all) {
  std::erase_if(all, [](const auto& one) { return one.what == "network"; });
  return all;
}

}  // namespace

TEST_CASE("find: what does not say what it is is asked, over its best way; what says it is left alone", "[find]") {
  Bench bench;
  const auto asked = std::make_shared<Named>("Lanternfield,Scope,S1,1.0");
  const auto told = std::make_shared<Named>("not,to,be,asked");
  const auto first = bench.serve(asked), second = bench.serve(told);
  bench.announced = {{"scope", "box", {{"_scpi-raw._tcp", first}, {"_lxi._tcp", 80}}, {}, {}},
                     {"meter",
                      "box",
                      {{"_scpi-raw._tcp", second}},
                      {{"Manufacturer", "Lanternfield"}, {"Model", "Meter"}, {"SerialNumber", "S2"}},
                      {}}};
  const auto found = bench.found();
  REQUIRE(found.instruments.size() == 2);
  const auto& scope = found.instruments[found.instruments[0].name == "scope" ? 0 : 1];
  const auto& meter = found.instruments[found.instruments[0].name == "scope" ? 1 : 0];
  CHECK(scope.resources == std::vector<std::string>{socket_at(first)});
  CHECK(scope.identity == Identity{"Lanternfield", "Scope", "S1", "1.0"});
  CHECK(scope.seen_by.size() == 2);
  CHECK(meter.identity == Identity{"Lanternfield", "Meter", "S2", ""});
  CHECK(asked->messages == 1);
  CHECK(told->messages == 0);
  CHECK(without_network(found.unusable).empty());
  CHECK(found.searched.size() == 1);
}

TEST_CASE("find: what cannot be used is told with the reason, and does not hold up the others", "[find]") {
  Bench bench;
  const auto good = bench.serve(std::make_shared<Named>("m,x,S1,1"));
  const auto silent = bench.serve(std::make_shared<Named>(""));
  const auto flood = bench.serve(std::make_shared<Named>(std::string(1 << 20, 'x')));
  const auto nobody = test::free_port(bench.wall.loop);
  bench.announced = {{"good", "box", {{"_scpi-raw._tcp", good}}, {}, {}},
                     {"silent", "box", {{"_scpi-raw._tcp", silent}}, {}, {}},
                     {"flood", "box", {{"_scpi-raw._tcp", flood}}, {}, {}},
                     {"nobody", "box", {{"_scpi-raw._tcp", nobody}}, {}, {}},
                     {"page", "box2", {{"_lxi._tcp", 80}}, {{"SerialNumber", "S9"}}, {}},
                     {"later", "box3", {{"_hislip._tcp", 4880}}, {{"SerialNumber", "S8"}}, {}}};
  const auto found = bench.found();
  REQUIRE(found.instruments.size() == 1);
  CHECK(found.instruments[0].name == "good");
  const std::vector<std::pair<std::string, std::string>> expected = {
      {socket_at(silent) + " (silent)", "no answer to *IDN? within 0.80 s"},
      {socket_at(flood) + " (flood)", "no end within the limit of 1024 bytes"},
      {socket_at(nobody) + " (nobody)", "cannot connect to port"},
      {"page at 127.0.0.1", "no service for remote control"},
      {"TCPIP0::127.0.0.1::hislip0::INSTR (later)", "hislip are not yet served"},
  };
  const auto told = without_network(found.unusable);
  CHECK(told.size() == expected.size());
  for (const auto& [what, why] : expected) {
    INFO(what);
    const auto at = std::find_if(told.begin(), told.end(), [&](const auto& one) { return one.what == what; });
    REQUIRE(at != told.end());
    CHECK(at->why.find(why) != std::string::npos);
    CHECK_FALSE(at->attempt.empty());
  }
}

TEST_CASE("find: other ways of looking are merged in; one that fails is told", "[find]") {
  Bench bench;
  const auto port = bench.serve(std::make_shared<Named>("m,x,S1,1"));
  bench.announced = {{"scope", "box", {{"_scpi-raw._tcp", port}}, {}, {}}};
  const auto usb = []() -> task<Seen> {
    Sighting one;
    one.resource = "USB::0x1234::0x5678::s1::INSTR";
    one.seen_by = "USB";
    one.identity = identity_of("m,x,S1,");
    Sighting nonsense = one;
    nonsense.resource = "USB::what\x1B::this";
    co_return Seen{{one, nonsense}, {}};
  };
  const auto broken = []() -> task<Seen> {
    transport::fail(base::ErrorCode::no_connection, "USB", "no right to read the bus", "install the rule");
    co_return Seen{};
  };
  bench.options.others = {{"USB", usb}, {"other bus", broken}};
  bench.transports.add(transport::Carrier::usbtmc,
                       [](transport::ResourceName) -> task<std::unique_ptr<transport::Link>> {
                         transport::fail(base::ErrorCode::defect, "USB", "discovery must not open it", "");
                         co_return nullptr;
                       });
  const auto found = bench.found();
  REQUIRE(found.instruments.size() == 1);
  CHECK(found.instruments[0].resources ==
        std::vector<std::string>{"USB0::0x1234::0x5678::s1::0::INSTR", socket_at(port)});
  const auto told = without_network(found.unusable);
  REQUIRE(told.size() == 2);
  const auto& bus = told[told[0].what == "other bus" ? 0 : 1];
  CHECK(bus.why == "no right to read the bus");
  CHECK(bus.attempt == "install the rule");
  CHECK(told[told[0].what == "other bus" ? 1 : 0].what == "USB::what\\x1b::this");
}

TEST_CASE("find: on a quiet net it ends when it has listened, and says where", "[find]") {
  Bench bench;
  const auto begun = bench.wall.timeline->now();
  const auto found = bench.found();
  CHECK(found.instruments.empty());
  CHECK(without_network(found.unusable).empty());
  CHECK(found.searched == std::vector<std::string>{bench.options.interfaces[0].name});
  CHECK(bench.wall.timeline->now() - begun < std::chrono::seconds(2));  // 0.4 s; a loaded machine included
}
