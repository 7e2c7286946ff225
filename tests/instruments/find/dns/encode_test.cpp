// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <stdexcept>
#include <string>

#include "instruments/find/dns/message.hpp"
#include "tests/instruments/find/dns/bytes.hpp"

using namespace eyelevel::find::dns;
using eyelevel::test::bytes_of;

TEST_CASE("DNS message: a query for two services is these bytes", "[find]") {
  // RFC 6762, 18 (id 0, no flags), 5.4 (QU bit); RFC 1035, 4.1.4 (the second name ends in a pointer to byte 17).
  Message query;
  query.questions.push_back({name_of("_lxi._tcp.local"), Type::ptr, class_in, false});
  query.questions.push_back({name_of("_hislip._tcp.local"), Type::ptr, class_in, true});
  CHECK(encode(query) == bytes_of("00 00 00 00 00 02 00 00 00 00 00 00"
                                  "04 5F 6C 78 69 04 5F 74 63 70 05 6C 6F 63 61 6C 00 00 0C 00 01"
                                  "07 5F 68 69 73 6C 69 70 C0 11 00 0C 80 01"));
}

TEST_CASE("DNS message: the target of SRV is not compressed, that of PTR is", "[find]") {
  // RFC 2782, "Target"; RFC 6762, 18.14.
  Message answer;
  answer.response = answer.authoritative = true;
  answer.answers.push_back({name_of("b.local"), Type::ptr, class_in, false, 10, Ptr{name_of("a.b.local")}});
  answer.answers.push_back({name_of("a.b.local"), Type::srv, class_in, true, 10, Srv{0, 0, 5025, name_of("b.local")}});
  CHECK(encode(answer) == bytes_of("00 00 84 00 00 00 00 02 00 00 00 00"
                                   "01 62 05 6C 6F 63 61 6C 00 00 0C 00 01 00 00 00 0A 00 04 01 61 C0 0C"
                                   "C0 1F 00 21 80 01 00 00 00 0A 00 0F 00 00 00 00 13 A1"
                                   "01 62 05 6C 6F 63 61 6C 00"));
}

TEST_CASE("DNS message: TXT without a string is one empty string", "[find]") {
  // RFC 6763, 6.1.
  Message answer;
  answer.answers.push_back({Name{}, Type::txt, class_in, false, 0, Txt{}});
  CHECK(encode(answer) == bytes_of("00 00 00 00 00 00 00 01 00 00 00 00  00 00 10 00 01 00 00 00 00 00 01 00"));
}

TEST_CASE("DNS message: what is encoded reads back the same, flags and all sections", "[find]") {
  Message message;
  message.id = 0xABCD;
  message.response = message.truncated = true;
  message.opcode = 5;
  message.response_code = 3;
  message.questions.push_back({name_of("x.local"), Type::any, class_any, true});
  message.answers.push_back({name_of("x.local"), Type::a, class_in, true, 120, A{{192, 0, 2, 1}}});
  message.authorities.push_back(
      {name_of("y.x.local"), Type::txt, class_in, false, 4500, Txt{{"txtvers=1", "Model=M"}}});
  message.additionals.push_back({name_of("X.local"), Type::aaaa, class_in, true, 120, Aaaa{{0xFE, 0x80}}});
  message.additionals.push_back({name_of("x.local"), static_cast<Type>(47), class_in, false, 1, Other{"abc"}});
  const auto parsed = parse(encode(message));
  INFO(parsed.fault);
  REQUIRE(parsed.message);
  CHECK(encode(*parsed.message) == encode(message));
  CHECK(parsed.message->id == 0xABCD);
  CHECK(parsed.message->truncated);
  CHECK(parsed.message->opcode == 5);
  CHECK(parsed.message->response_code == 3);
  CHECK(parsed.message->additionals.at(0).name.labels.at(0) == "X");  // the case of each name is kept
}

TEST_CASE("DNS message: what cannot be written is refused", "[find]") {
  Message message;
  message.answers.push_back({name_of("x"), Type::txt, class_in, false, 0, Txt{{std::string(256, 'a')}}});
  CHECK_THROWS_AS(encode(message), std::invalid_argument);
  message.answers[0].data = Txt{{std::string(255, 'a')}};
  CHECK_NOTHROW(encode(message));
  CHECK_THROWS_AS(encode(message, 200), std::length_error);
  message.answers[0].name.labels = {std::string(64, 'a')};
  CHECK_THROWS_AS(encode(message), std::invalid_argument);
}
