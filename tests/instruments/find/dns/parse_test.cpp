// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <string>

#include "instruments/find/dns/message.hpp"
#include "tests/instruments/find/dns/bytes.hpp"

using namespace eyelevel::find::dns;
using eyelevel::test::bytes_of;

namespace {

std::string header(unsigned questions, unsigned answers) {
  std::string out(12, '\0');
  out[2] = '\x84';
  out[5] = static_cast<char>(questions);
  out[7] = static_cast<char>(answers);
  return out;
}

const std::string type_and_class = bytes_of("00 0C 00 01");

}  // namespace

TEST_CASE("DNS message: names compressed as RFC 1035 shows are read", "[find]") {
  // RFC 1035, 4.1.4: F.ISI.ARPA at byte 20, FOO.F.ISI.ARPA as FOO and a pointer to 20, ARPA as a pointer to 26, the
  // root.
  const std::string first = bytes_of("02 7A 7A 00");
  const std::string f = bytes_of("01 46 03 49 53 49 04 41 52 50 41 00");
  const auto parsed = parse(header(5, 0) + first + type_and_class + f + type_and_class + bytes_of("03 46 4F 4F C0 14") +
                            type_and_class + bytes_of("C0 1A") + type_and_class + bytes_of("00") + type_and_class);
  REQUIRE(parsed.message);
  const auto& questions = parsed.message->questions;
  REQUIRE(questions.size() == 5);
  CHECK(text_of(questions[1].name) == "F.ISI.ARPA");
  CHECK(text_of(questions[2].name) == "FOO.F.ISI.ARPA");
  CHECK(text_of(questions[3].name) == "ARPA");
  CHECK(questions[4].name.labels.empty());
}

TEST_CASE("DNS message: the top bits of the class are the QU bit and the cache-flush bit", "[find]") {
  // RFC 6762, 5.4, 10.2, 18.12 and 18.13.
  const auto parsed = parse(header(1, 1) + bytes_of("01 61 00 00 1C 80 01") +
                            bytes_of("C0 0C 00 01 80 01 00 00 00 78 00 04 C0 00 02 0A"));
  REQUIRE(parsed.message);
  CHECK(parsed.message->response);
  CHECK(parsed.message->authoritative);
  const auto& question = parsed.message->questions.at(0);
  CHECK(question.type == Type::aaaa);
  CHECK(question.unicast);
  CHECK(question.dns_class == class_in);
  const auto& record = parsed.message->answers.at(0);
  CHECK(record.flush);
  CHECK(record.dns_class == class_in);
  CHECK(record.ttl_s == 120);
  CHECK(std::get<A>(record.data).address == std::array<std::uint8_t, 4>{192, 0, 2, 10});
}

TEST_CASE("DNS message: SRV, TXT, AAAA and what is not known are taken apart", "[find]") {
  // RFC 2782 (priority, weight, port, target), RFC 6763, 6.1 and 6.2 (TXT), RFC 3596, 2.2 (AAAA).
  const auto srv = bytes_of("01 61 00 00 21 00 01 00 00 00 78 00 0B 00 01 00 02 12 D0 01 61 C0 0C");
  const auto txt =
      bytes_of("C0 0C 00 10 00 01 00 00 00 78 00 14 09 74 78 74 76 65 72 73 3D 31 08 70 61 70 65 72 3D 41 34 00");
  const auto aaaa = bytes_of("C0 0C 00 1C 00 01 00 00 00 78 00 10 FE 80 00 00 00 00 00 00 00 00 00 00 00 00 00 01");
  const auto nsec = bytes_of("C0 0C 00 2F 00 01 00 00 00 78 00 03 61 62 63");
  // The SRV above announces 11 bytes and holds 10.
  auto shorter = srv;
  shorter[12] = '\x0A';
  const auto parsed = parse(header(0, 4) + shorter + txt + aaaa + nsec);
  INFO(parsed.fault);
  REQUIRE(parsed.message);
  const auto& answers = parsed.message->answers;
  const auto& service = std::get<Srv>(answers[0].data);
  CHECK(service.priority == 1);
  CHECK(service.weight == 2);
  CHECK(service.port == 4816);
  CHECK(text_of(service.target) == "a.a");
  CHECK(std::get<Txt>(answers[1].data).strings == std::vector<std::string>{"txtvers=1", "paper=A4", ""});
  CHECK(std::get<Aaaa>(answers[2].data).address[0] == 0xFE);
  CHECK(std::get<Other>(answers[3].data).bytes == "abc");
  CHECK_FALSE(parse(header(0, 4) + srv + txt + aaaa + nsec).message);
}

TEST_CASE("DNS message: pointers that go in circles, ahead or nowhere are refused with their byte", "[find]") {
  const std::vector<std::pair<std::string, std::string>> rows = {
      {"C0 0C", "byte 12: question: a compression pointer to byte 12"},        // to itself
      {"C0 0E", "byte 12: question: a compression pointer to byte 14"},        // ahead
      {"FF FF", "byte 12: question: a compression pointer to byte 16383"},     // past the end
      {"01 61 C0 0C", "byte 14: question: a compression pointer to byte 12"},  // into the name itself
      {"C0", "byte 12: question: half a compression pointer"},                 // cut
      {"40 61", "byte 12: question: label type 0x40"},                         // RFC 1035, 4.1.4: reserved
      {"80 61", "byte 12: question: label type 0x80"},                         //
      {"05 61 62", "byte 12: question: the label goes past the end"},          //
      {"01 61", "byte 14: question: the name has no end"},                     //
  };
  for (const auto& [name, expected] : rows) {
    const auto parsed = parse(header(1, 0) + bytes_of(name));
    INFO(name);
    CHECK_FALSE(parsed.message);
    CHECK(parsed.fault.substr(0, expected.size()) == expected);
  }
}

TEST_CASE("DNS message: two pointers at each other are refused", "[find]") {
  // The first name points at the second's bytes ahead; from the second, a pointer back to the first must end there.
  const auto parsed =
      parse(header(2, 0) + bytes_of("01 61 C0 12") + type_and_class.substr(0, 2) + bytes_of("C0 0C 00 0C 00 01"));
  CHECK_FALSE(parsed.message);
  CHECK(parsed.fault.find("not before the name") != std::string::npos);
}

TEST_CASE("DNS message: a chain of pointers backwards is read, a name of more than 255 bytes is not", "[find]") {
  std::string bytes = header(9, 0);
  std::size_t before = 12;
  bytes += bytes_of("1F") + std::string(31, 'x') + bytes_of("00") + type_and_class;
  for (int i = 1; i < 9; ++i) {
    const std::size_t here = bytes.size();
    bytes += bytes_of("1F") + std::string(31, 'x');
    bytes += static_cast<char>(0xC0U | before >> 8U);
    bytes += static_cast<char>(before & 0xFFU);
    bytes += type_and_class;
    before = here;
  }
  auto parsed = parse(bytes);
  CHECK_FALSE(parsed.message);  // the eighth has 8 * 32 + 1 bytes
  CHECK(parsed.fault.find("more than 255 bytes") != std::string::npos);
  bytes[5] = 7;
  parsed = parse(bytes);
  REQUIRE(parsed.message);
  CHECK(parsed.message->questions.back().name.labels.size() == 7);
}

TEST_CASE("DNS message: counts without bytes behind them, and lengths that lie, are refused", "[find]") {
  auto many = header(0, 0);
  for (std::size_t i = 4; i < 12; ++i) many[i] = '\xFF';
  CHECK_FALSE(parse(many).message);
  const auto record = bytes_of("01 61 00 00 01 00 01 00 00 00 78");
  CHECK_FALSE(parse(header(0, 1) + record + bytes_of("FF FF C0 00 02 0A")).message);
  CHECK_FALSE(parse(header(0, 1) + record + bytes_of("00 03 C0 00 02")).message);
  CHECK_FALSE(parse(header(0, 1) + record + bytes_of("00 05 C0 00 02 0A 00")).message);
  CHECK_FALSE(parse(std::string(9001, '\0')).message);
  CHECK(parse(header(0, 1) + record + bytes_of("00 04 C0 00 02 0A")).message);
}

TEST_CASE("DNS message: cut after any byte it is refused, never read past", "[find]") {
  const auto whole = header(1, 2) + bytes_of("04 5F 6C 78 69 04 5F 74 63 70 05 6C 6F 63 61 6C 00 00 0C 80 01") +
                     bytes_of("C0 0C 00 0C 00 01 00 00 11 94 00 08 05 73 63 6F 70 65 C0 0C") +
                     bytes_of("C0 2D 00 10 80 01 00 00 11 94 00 0A 09 74 78 74 76 65 72 73 3D 31");
  const auto complete = parse(whole);
  INFO(complete.fault);
  REQUIRE(complete.message);
  CHECK(text_of(complete.message->answers.at(1).name) == "scope._lxi._tcp.local");
  for (std::size_t size = 0; size < whole.size(); ++size) {
    const std::string exact(whole, 0, size);
    CHECK_FALSE(parse(exact).message);
  }
}
