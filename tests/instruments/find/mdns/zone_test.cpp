// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <stdexcept>

#include "instruments/find/mdns/catalogue.hpp"
#include "instruments/find/mdns/zone.hpp"

using namespace eyelevel::find;
using namespace eyelevel::find::mdns;
namespace ip = boost::asio::ip;

namespace {

const Addresses here = {ip::make_address("192.0.2.1"), ip::make_address("fe80::1%3")};

Zone small_zone() {
  return Zone({{"scope", "box", {{"_hislip._tcp", 4880}, {"_scpi-raw._tcp", 5025}}, {{"Model", "LF"}}, {}}});
}

dns::Message query(const std::string& name, dns::Type type) {
  dns::Message message;
  message.id = 77;
  message.questions.push_back({dns::name_of(name), type, dns::class_in, true});
  return message;
}

}  // namespace

TEST_CASE("mDNS zone: PTR is answered with SRV, TXT and addresses beside", "[find]") {
  // RFC 6763, 12.1 and 12.2.
  const auto answer = small_zone().answer(query("_HISLIP._tcp.local", dns::Type::ptr), here, false);
  REQUIRE(answer);
  CHECK(answer->response);
  CHECK(answer->authoritative);
  CHECK(answer->id == 0);  // RFC 6762, 18.1
  CHECK(answer->questions.empty());
  REQUIRE(answer->answers.size() == 1);
  CHECK(answer->answers[0].ttl_s == 4500);
  CHECK_FALSE(answer->answers[0].flush);  // shared: RFC 6762, 10.2
  CHECK(answer->additionals.size() == 4);
  Catalogue catalogue;
  catalogue.take(*answer, ip::make_address("192.0.2.99"), 3);
  const auto services = catalogue.services();
  REQUIRE(services.size() == 1);
  CHECK(services[0].port == 4880);
  CHECK(services[0].txt == std::map<std::string, std::string>{{"txtvers", "1"}, {"model", "LF"}});
  CHECK(services[0].addresses == here);
}

TEST_CASE("mDNS zone: a plain DNS client gets its id and question back and short-lived records", "[find]") {
  // RFC 6762, 6.7.
  const auto answer = small_zone().answer(query("box.local", dns::Type::a), here, true);
  REQUIRE(answer);
  CHECK(answer->id == 77);
  REQUIRE(answer->questions.size() == 1);
  REQUIRE(answer->answers.size() == 1);
  CHECK(answer->answers[0].ttl_s <= 10);
  CHECK_FALSE(answer->answers[0].flush);
}

TEST_CASE("mDNS zone: which types there are can be asked, each is told once", "[find]") {
  // RFC 6763, 9.
  const auto answer = small_zone().answer(query("_services._dns-sd._udp.local", dns::Type::ptr), here, false);
  REQUIRE(answer);
  CHECK(answer->answers.size() == 2);
  CHECK(answer->additionals.empty());
  const Zone two({{"a", "x", {{"_lxi._tcp", 80}}, {}, {}}, {"b", "y", {{"_lxi._tcp", 80}}, {}, {}}});
  CHECK(two.answer(query("_services._dns-sd._udp.local", dns::Type::ptr), here, false)->answers.size() == 1);
  CHECK(two.answer(query("_lxi._tcp.local", dns::Type::ptr), here, false)->answers.size() == 2);
}

TEST_CASE("mDNS zone: what the asker knows is not said again, what is not here not at all", "[find]") {
  auto known = query("_hislip._tcp.local", dns::Type::ptr);
  known.answers.push_back({known.questions[0].name, dns::Type::ptr, dns::class_in, false, 2250,
                           dns::Ptr{dns::name_of("scope._hislip._tcp.local")}});
  CHECK_FALSE(small_zone().answer(known, here, false));  // RFC 6762, 7.1: half of its time is left
  known.answers[0].ttl_s = 2249;
  CHECK(small_zone().answer(known, here, false));
  CHECK_FALSE(small_zone().answer(query("_ipp._tcp.local", dns::Type::ptr), here, false));
  CHECK_FALSE(small_zone().answer(query("scope._hislip._tcp.local", dns::Type::aaaa), here, false));
}

TEST_CASE("mDNS zone: it is said only where the instrument listens", "[find]") {
  const auto loopback = ip::make_address("127.0.0.1");
  const Zone zone({{"scope", "box", {{"_lxi._tcp", 80}}, {}, {loopback}}});
  CHECK_FALSE(zone.announcement(here));
  CHECK_FALSE(zone.probe(here));
  CHECK_FALSE(zone.answer(query("_lxi._tcp.local", dns::Type::ptr), here, false));
  const auto said = zone.announcement({loopback, ip::make_address("::1")});
  REQUIRE(said);
  CHECK(said->answers.size() == 5);
}

TEST_CASE("mDNS zone: a probe asks for the names and says what it means to have", "[find]") {
  // RFC 6762, 8.1: type ANY, the records in the authority section, no cache-flush bit there (10.2).
  const auto probe = small_zone().probe(here);
  REQUIRE(probe);
  CHECK_FALSE(probe->response);
  CHECK(probe->questions.size() == 3);
  for (const auto& question : probe->questions) {
    CHECK(question.type == dns::Type::any);
    CHECK_FALSE(question.unicast);
  }
  CHECK(probe->authorities.size() == 6);
  for (const auto& record : probe->authorities) CHECK_FALSE(record.flush);
  const auto goodbye = small_zone().goodbye(here);
  REQUIRE(goodbye);
  for (const auto& record : goodbye->answers) CHECK(record.ttl_s == 0);
}

TEST_CASE("mDNS zone: names that somebody else has are given up, its own echo is not somebody else", "[find]") {
  // RFC 6762, 9.
  auto zone = small_zone();
  CHECK_FALSE(zone.yield_to(*zone.announcement(here), here));
  CHECK_FALSE(zone.yield_to(*zone.goodbye({ip::make_address("192.0.2.7")}), here));
  const auto other_host = *zone.announcement({ip::make_address("192.0.2.7")});
  CHECK(zone.yield_to(other_host, here));
  CHECK(zone.announcements()[0].host == "box-2");
  // The instance's SRV named box, which is now somebody else's.
  CHECK(zone.yield_to(other_host, here));
  CHECK(zone.announcements()[0].instance == "scope (2)");
  CHECK_FALSE(zone.yield_to(other_host, here));
  Zone longest({{std::string(63, 'a'), std::string(63, 'b'), {{"_lxi._tcp", 80}}, {}, {}}});
  const Zone other({{std::string(63, 'a'), std::string(63, 'b'), {{"_lxi._tcp", 81}}, {}, {}}});
  CHECK(longest.yield_to(*other.announcement({ip::make_address("192.0.2.7")}), here));
  CHECK(longest.announcements()[0].instance == std::string(59, 'a') + " (2)");
  CHECK(longest.announcement(here));
}

TEST_CASE("mDNS zone: names and TXT that cannot be said are refused at once", "[find]") {
  using List = std::vector<Announcement>;
  CHECK_THROWS_AS(Zone(List{{std::string(64, 'a'), "h", {{"_lxi._tcp", 80}}, {}, {}}}), std::invalid_argument);
  CHECK_THROWS_AS(Zone(List{{"a", "", {{"_lxi._tcp", 80}}, {}, {}}}), std::invalid_argument);
  CHECK_THROWS_AS(Zone(List{{"a", "h", {{"_lxi._tcp", 80}}, {{"Model", std::string(250, 'm')}}, {}}}),
                  std::invalid_argument);
}
