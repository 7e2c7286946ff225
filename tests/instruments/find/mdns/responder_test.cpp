// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "core/base/deadline.hpp"
#include "instruments/find/detail/together.hpp"
#include "instruments/find/mdns/browser.hpp"
#include "instruments/find/mdns/responder.hpp"
#include "instruments/transport/error.hpp"
#include "tests/instruments/find/mdns/loopback.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::find;
using namespace eyelevel::find::mdns;
using boost::asio::ip::udp;

namespace {

std::vector<Announcement> two_instruments() {
  return {{"scope", "box", {{"_hislip._tcp", 4880}, {"_scpi-raw._tcp", 5025}}, {{"SerialNumber", "S1"}}, {}},
          {"meter", "box", {{"_scpi-raw._tcp", 5026}}, {{"SerialNumber", "S2"}}, {}}};
}

struct Net {
  test::Wall wall;
  std::vector<Interface> interfaces = test::loopback();
  std::uint16_t port = test::free_port(wall.loop);

  Responder responder(std::vector<Announcement> what) {
    return {wall.loop.get_executor(), *wall.timeline, std::move(what), interfaces, port};
  }
  // Runs the responders until `main` has ended.
  void during(std::vector<Responder*> responders, task<> main) {
    auto all = [&](task<> work) -> task<> {
      std::vector<task<>> works;
      for (auto* one : responders) works.push_back(one->run());
      works.push_back(ending(std::move(work)));
      try {
        co_await find::detail::together(std::move(works));
      } catch (const Ended&) {
        ended = true;
      }
    };
    wall.run(all(std::move(main)));
    CHECK(ended);
  }

 private:
  struct Ended : std::exception {};
  static task<> ending(task<> work) {
    co_await std::move(work);
    throw Ended();
  }
  bool ended = false;
};

task<> until_announced(base::Timeline& timeline, const Responder& responder) {
  while (!responder.announced()) co_await timeline.sleep(std::chrono::milliseconds(20));
}

}  // namespace

TEST_CASE("mDNS responder: the browser finds what it announces, with ports, addresses and TXT", "[find]") {
  Net net;
  auto responder = net.responder(two_instruments());
  Browsed found;
  auto main = [&]() -> task<> {
    co_await until_announced(*net.wall.timeline, responder);
    found = co_await browse(*net.wall.timeline, net.interfaces, std::chrono::milliseconds(500), net.port);
  };
  net.during({&responder}, main());
  CHECK(found.obstacles.empty());
  CHECK(found.bad.empty());
  CHECK(found.unresolved.empty());
  REQUIRE(found.services.size() == 3);
  std::vector<std::string> seen;
  for (const auto& one : found.services) {
    seen.push_back(one.instance + one.type + std::to_string(one.port));
    CHECK(one.host == "box.local");
    CHECK(one.addresses.at(0) == boost::asio::ip::make_address("127.0.0.1"));
    CHECK(one.txt.at("serialnumber") == (one.instance == "scope" ? "S1" : "S2"));
  }
  std::sort(seen.begin(), seen.end());
  CHECK(seen ==
        std::vector<std::string>{"meter_scpi-raw._tcp5026", "scope_hislip._tcp4880", "scope_scpi-raw._tcp5025"});
}

TEST_CASE("mDNS responder: names that another one has are not taken a second time", "[find]") {
  Net net;
  auto first = net.responder(two_instruments());
  auto changed = two_instruments();
  changed[0].services[0].port = 4881;  // the same name, another instrument
  std::unique_ptr<Responder> second;
  auto main = [&]() -> task<> {
    co_await until_announced(*net.wall.timeline, first);
    second = std::make_unique<Responder>(net.wall.loop.get_executor(), *net.wall.timeline, changed, net.interfaces,
                                         net.port);
    auto both = [&]() -> task<> {
      co_await base::finished_within(*net.wall.timeline, std::chrono::seconds(4), second->run());
    };
    auto look = [&]() -> task<> { co_await until_announced(*net.wall.timeline, *second); };
    std::vector<task<>> works;
    works.push_back(both());
    works.push_back(look());
    co_await find::detail::together(std::move(works));
  };
  net.during({&first}, main());
  CHECK(first.announcements()[0].instance == "scope");
  CHECK(second->announcements()[0].instance == "scope (2)");
  CHECK(second->announcements()[1].instance == "meter");  // the same in every respect: nobody is hurt
}

TEST_CASE("mDNS responder: bytes that are no message and pointer loops leave it alive", "[find]") {
  Net net;
  auto responder = net.responder(two_instruments());
  Browsed found;
  auto main = [&]() -> task<> {
    co_await until_announced(*net.wall.timeline, responder);
    auto asker = open_asker(net.wall.loop.get_executor(), net.interfaces.at(0), Family::v4);
    const auto group = mdns::group(net.interfaces[0], Family::v4, net.port);
    const std::string loop("\0\0\0\0\0\1\0\0\0\0\0\0\xC0\x0C\0\x0C\0\1", 18);
    for (const auto& bytes : {loop, std::string(), std::string(9000, '\xFF'), std::string("\0", 1)})
      asker.send_to(boost::asio::buffer(bytes), group);
    // A forged answer to everybody, too.
    auto hostile = [&]() -> task<> {
      for (int i = 0; i < 20; ++i) {
        asker.send_to(boost::asio::buffer(loop), group);
        co_await net.wall.timeline->sleep(std::chrono::milliseconds(10));
      }
    };
    auto look = [&]() -> task<> {
      found = co_await browse(*net.wall.timeline, net.interfaces, std::chrono::milliseconds(500), net.port);
    };
    std::vector<task<>> works;
    works.push_back(hostile());
    works.push_back(look());
    co_await find::detail::together(std::move(works));
  };
  net.during({&responder}, main());
  CHECK(found.services.size() == 3);
  REQUIRE(found.bad.size() == 1);  // told once for each sender
  CHECK(found.bad[0].from == "127.0.0.1");
  CHECK(found.bad[0].fault.find("byte 12") == 0);
}

TEST_CASE("mDNS responder: without an address at which the instruments listen it refuses to begin", "[find]") {
  Net net;
  auto elsewhere = two_instruments();
  for (auto& one : elsewhere) one.at = {boost::asio::ip::make_address("203.0.113.7")};
  CHECK_THROWS_AS(net.responder(elsewhere), transport::TransportError);
}

TEST_CASE("mDNS responder: when it ends it says goodbye", "[find]") {
  Net net;
  auto responder = net.responder(two_instruments());
  auto member = open_member(net.wall.loop.get_executor(), net.interfaces.at(0), Family::v4, net.port);
  auto until = [&]() -> task<> { co_await until_announced(*net.wall.timeline, responder); };
  net.during({&responder}, until());
  std::size_t goodbyes = 0;
  member.non_blocking(true);
  std::string bytes(9000, '\0');
  for (;;) {
    boost::system::error_code error;
    udp::endpoint from;
    const auto size = member.receive_from(boost::asio::buffer(bytes), from, 0, error);
    if (error) break;
    const auto parsed = dns::parse(std::string_view(bytes).substr(0, size));
    REQUIRE(parsed.message);
    if (parsed.message->response && parsed.message->answers.at(0).ttl_s == 0) ++goodbyes;
  }
  CHECK(goodbyes == 1);
}
