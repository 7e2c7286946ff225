// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include "instruments/find/mdns/catalogue.hpp"

using namespace eyelevel::find;
using namespace eyelevel::find::mdns;
namespace ip = boost::asio::ip;

namespace {

const dns::Name hislip = dns::name_of("_hislip._tcp.local");
const dns::Name scope = dns::below("scope", hislip);
const dns::Name host = dns::name_of("box.local");
const auto sender = ip::make_address("192.0.2.9");

dns::Record ptr(const dns::Name& type, const dns::Name& instance, std::uint32_t ttl_s = 4500) {
  return {type, dns::Type::ptr, dns::class_in, false, ttl_s, dns::Ptr{instance}};
}
dns::Record srv(const dns::Name& instance, std::uint16_t port, const dns::Name& target) {
  return {instance, dns::Type::srv, dns::class_in, true, 120, dns::Srv{0, 0, port, target}};
}
dns::Record a(const dns::Name& name, std::uint8_t last) {
  return {name, dns::Type::a, dns::class_in, true, 120, dns::A{{192, 0, 2, last}}};
}
dns::Message response(std::vector<dns::Record> answers) {
  dns::Message message;
  message.response = true;
  message.answers = std::move(answers);
  return message;
}

}  // namespace

TEST_CASE("mDNS catalogue: all types of instrument services are asked for", "[find]") {
  const auto questions = Catalogue().first_questions();
  REQUIRE(questions.size() == 6);
  CHECK(questions[0].name == hislip);
  for (const auto& question : questions) CHECK(question.type == dns::Type::ptr);
}

TEST_CASE("mDNS catalogue: from PTR to SRV, TXT and address, each open question is asked and then closed", "[find]") {
  // RFC 6763, 4 and 12.
  Catalogue catalogue;
  catalogue.take(response({ptr(hislip, scope)}), sender, 2);
  auto open = catalogue.open_questions();
  REQUIRE(open.size() == 2);
  CHECK(open[0].name == scope);
  CHECK(open[0].type == dns::Type::srv);
  CHECK(open[1].type == dns::Type::txt);
  CHECK(catalogue.services().empty());
  CHECK(catalogue.unresolved() == std::vector<std::string>{"scope._hislip._tcp.local"});

  auto txt = dns::Record{scope, dns::Type::txt, dns::class_in, true, 4500, dns::Txt{{"txtvers=1", "Model=LF"}}};
  catalogue.take(response({srv(scope, 4881, host), txt}), sender, 2);
  open = catalogue.open_questions();
  REQUIRE(open.size() == 2);
  CHECK(open[0].name == host);
  CHECK(open[0].type == dns::Type::a);
  CHECK(open[1].type == dns::Type::aaaa);

  dns::Record aaaa{host,          dns::Type::aaaa,
                   dns::class_in, true,
                   120,           dns::Aaaa{{0xFE, 0x80, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1}}};
  catalogue.take(response({aaaa, a(host, 10)}), sender, 2);
  CHECK(catalogue.open_questions().empty());
  CHECK(catalogue.unresolved().empty());
  const auto services = catalogue.services();
  REQUIRE(services.size() == 1);
  CHECK(services[0].type == "_hislip._tcp");
  CHECK(services[0].instance == "scope");
  CHECK(services[0].host == "box.local");
  CHECK(services[0].port == 4881);
  CHECK(services[0].txt.at("model") == "LF");
  REQUIRE(services[0].addresses.size() == 2);
  CHECK(services[0].addresses[0] == ip::make_address("192.0.2.10"));  // IPv4 first
  CHECK(services[0].addresses[1].to_v6().scope_id() == 2);
}

TEST_CASE("mDNS catalogue: records in one message count in any order", "[find]") {
  Catalogue catalogue;
  catalogue.take(response({a(host, 10), srv(scope, 4880, host), ptr(hislip, scope)}), sender, 1);
  REQUIRE(catalogue.services().size() == 1);
  CHECK(catalogue.services()[0].addresses.at(0) == ip::make_address("192.0.2.10"));
}

TEST_CASE("mDNS catalogue: a host that does not tell its address is where the answer came from", "[find]") {
  Catalogue catalogue;
  catalogue.take(response({srv(scope, 4880, host)}), sender, 1);
  CHECK(catalogue.services().at(0).addresses == std::vector<ip::address>{sender});
}

TEST_CASE("mDNS catalogue: a goodbye takes the instance out", "[find]") {
  // RFC 6762, 10.1.
  Catalogue catalogue;
  catalogue.take(response({ptr(hislip, scope), srv(scope, 4880, host)}), sender, 1);
  catalogue.take(response({ptr(hislip, scope, 0)}), sender, 1);
  CHECK(catalogue.services().empty());
}

TEST_CASE("mDNS catalogue: what was not asked for, queries and faulty answers leave nothing behind", "[find]") {
  Catalogue catalogue;
  const auto printer = dns::name_of("_ipp._tcp.local");
  catalogue.take(response({ptr(printer, dns::below("x", printer)), ptr(hislip, dns::below("y", scope)),
                           ptr(hislip, hislip), ptr(printer, scope), a(host, 1), srv(hislip, 1, host)}),
                 sender, 1);
  auto query = response({ptr(hislip, scope)});
  query.response = false;
  catalogue.take(query, sender, 1);
  auto refused = response({ptr(hislip, scope)});
  refused.response_code = 3;  // RFC 6762, 18.11
  catalogue.take(refused, sender, 1);
  auto other_class = response({ptr(hislip, scope)});
  other_class.answers[0].dns_class = 3;
  catalogue.take(other_class, sender, 1);
  CHECK(catalogue.open_questions().empty());
  CHECK(catalogue.services().empty());
}

TEST_CASE("mDNS catalogue: a flood is kept within the limits and told", "[find]") {
  Catalogue catalogue;
  for (int i = 0; i < 1000; ++i) {
    const auto instance = dns::below(fmt::format("i{}", i), hislip);
    catalogue.take(response({ptr(hislip, instance), srv(instance, 1, dns::name_of(fmt::format("h{}.local", i)))}),
                   sender, 1);
    catalogue.take(response({a(dns::name_of("h0.local"), static_cast<std::uint8_t>(i % 250 + 1))}), sender, 1);
  }
  CHECK(catalogue.overflowed());
  CHECK(catalogue.services().size() == most_instances);
  CHECK(catalogue.services()[0].addresses.size() == most_addresses);
}

TEST_CASE("mDNS catalogue: keys of TXT are read as RFC 6763 says", "[find]") {
  // 6.4: no '=': a key without value; begins with '=': ignored; the first of equal keys counts; case does not matter.
  const auto keys = keys_of(dns::Txt{{"Manufacturer=A=B", "Passive", "=none", "model=1", "MODEL=2", ""}});
  CHECK(keys == std::map<std::string, std::string>{{"manufacturer", "A=B"}, {"passive", ""}, {"model", "1"}});
}
