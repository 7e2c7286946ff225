// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <boost/asio/buffer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "instruments/find/detail/together.hpp"
#include "instruments/find/mdns/browser.hpp"
#include "tests/instruments/find/mdns/loopback.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::find;
using namespace eyelevel::find::mdns;
using boost::asio::ip::udp;

namespace {

const dns::Name raw = dns::name_of("_scpi-raw._tcp.local");
const dns::Name scope = dns::below("scope", raw);

// A device that tells nothing unasked: each answer holds only the records of the question (no additional ones).
std::vector<dns::Record> spare_answer(const dns::Question& question) {
  if (question.name == raw && question.type == dns::Type::ptr)
    return {{raw, dns::Type::ptr, dns::class_in, false, 10, dns::Ptr{scope}}};
  if (question.name == scope && question.type == dns::Type::srv)
    return {{scope, dns::Type::srv, dns::class_in, false, 10, dns::Srv{0, 0, 5025, dns::name_of("box.local")}}};
  if (question.name == scope && question.type == dns::Type::txt)
    return {{scope, dns::Type::txt, dns::class_in, false, 10, dns::Txt{{"Model=LF"}}}};
  if (question.name == dns::name_of("box.local") && question.type == dns::Type::a)
    return {{question.name, dns::Type::a, dns::class_in, false, 10, dns::A{{127, 0, 0, 7}}}};
  return {};
}

enum class To { asker, group };

task<> spare_device(udp::socket& socket, udp::endpoint group, To whom, int& queries) {
  for (std::string bytes;;) {
    bytes.assign(9000, '\0');
    udp::endpoint from;
    bytes.resize(co_await socket.async_receive_from(boost::asio::buffer(bytes), from, boost::asio::use_awaitable));
    const auto parsed = dns::parse(bytes);
    if (!parsed.message || parsed.message->response) continue;
    // The device that answers the group hears only those that ask from its port.
    if (whom == To::group && from.port() != group.port()) continue;
    ++queries;
    dns::Message answer;
    answer.response = true;
    for (const auto& question : parsed.message->questions)
      for (auto& record : spare_answer(question)) answer.answers.push_back(std::move(record));
    if (!answer.answers.empty())
      socket.send_to(boost::asio::buffer(dns::encode(answer)), whom == To::group ? group : from);
  }
}

Browsed browse_with(To whom, int& queries) {
  test::Wall wall;
  const auto interfaces = test::loopback();
  const auto port = test::free_port(wall.loop);
  auto device = open_member(wall.loop.get_executor(), interfaces.at(0), Family::v4, port);
  Browsed found;
  struct Ended {};
  auto look = [&]() -> task<> {
    found = co_await browse(*wall.timeline, interfaces, std::chrono::milliseconds(700), port);
    throw Ended();
  };
  auto main = [&]() -> task<> {
    std::vector<task<>> works;
    works.push_back(spare_device(device, group(interfaces[0], Family::v4, port), whom, queries));
    works.push_back(look());
    try {
      co_await find::detail::together(std::move(works));
    } catch (const Ended&) {
      co_return;
    }
  };
  wall.run(main());
  return found;
}

}  // namespace

TEST_CASE("mDNS browser: a device that answers only what it is asked is asked on until all is known", "[find]") {
  for (const auto whom : {To::asker, To::group}) {
    int queries = 0;
    const auto found = browse_with(whom, queries);
    REQUIRE(found.services.size() == 1);
    CHECK(found.services[0].port == 5025);
    CHECK(found.services[0].txt.at("model") == "LF");
    CHECK(found.services[0].addresses.at(0) == boost::asio::ip::make_address("127.0.0.7"));
    CHECK(queries >= 4);   // types twice, SRV and TXT, addresses
    CHECK(queries <= 40);  // and no storm
  }
}

TEST_CASE("mDNS browser: on a quiet net it listens for its time, finds nothing and says nothing is wrong", "[find]") {
  test::Wall wall;
  const auto interfaces = test::loopback();
  const auto port = test::free_port(wall.loop);
  Browsed found;
  base::Duration took{};
  auto main = [&]() -> task<> {
    const auto begun = wall.timeline->now();
    found = co_await browse(*wall.timeline, interfaces, std::chrono::milliseconds(200), port);
    took = wall.timeline->now() - begun;
  };
  wall.run(main());
  CHECK(found.services.empty());
  CHECK(found.obstacles.empty());
  CHECK(took >= std::chrono::milliseconds(200));
  CHECK(took < std::chrono::seconds(2));  // a loaded machine included
}

TEST_CASE("mDNS browser: an interface that cannot be asked is an obstacle with its reason, the others are asked",
          "[find]") {
  test::Wall wall;
  auto interfaces = test::loopback();
  Interface gone;
  gone.name = "gone0";
  gone.index = 999999;
  gone.up = true;
  gone.v4.push_back({boost::asio::ip::make_address_v4("203.0.113.9"), {}, std::nullopt});
  interfaces.push_back(gone);
  const auto port = test::free_port(wall.loop);
  Browsed found;
  auto main = [&]() -> task<> {
    found = co_await browse(*wall.timeline, interfaces, std::chrono::milliseconds(50), port);
  };
  wall.run(main());
  REQUIRE(found.obstacles.size() == 2);
  CHECK(found.obstacles[0].find("interface gone0: multicast DNS over IPv4: ") == 0);
}
