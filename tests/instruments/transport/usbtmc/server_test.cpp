// SPDX-License-Identifier: Apache-2.0
// The instrument's half, as a computer that keeps no rule sees it.
#include "instruments/transport/usbtmc/server.hpp"

#include <catch2/catch.hpp>

#include <array>

#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

namespace {

struct Bus {
  explicit Bus(const ServerOptions& options = {})
      : device(std::make_shared<test::UsbInstrument>(*sim.timeline)),
        server(sim.loop.get_executor(), device, options) {}

  test::Simulated sim;
  std::shared_ptr<test::UsbInstrument> device;
  UsbtmcServer server;
  std::uint8_t tag = 0;

  void pass(base::Duration time) { sim.run(sim.timeline->sleep(time)); }
  Handshake send(std::string_view text, bool end = true) {
    std::string out;
    append_message_out(out, tag = next_tag(tag), text, end);
    const auto handshake = server.bulk_out(out);
    pass(0ms);
    return handshake;
  }
  Handshake request(std::uint32_t most) {
    std::string out;
    append_request_in(out, tag = next_tag(tag), most);
    return server.bulk_out(out);
  }
  // A read of whole packets; empty when nothing comes.
  std::optional<std::string> read(std::size_t packets = 1) {
    std::string into(packets * server.endpoints().bulk_in_packet_bytes, '\0');
    const auto taken = server.bulk_in(into);
    if (taken.handshake != Handshake::ack) return std::nullopt;
    into.resize(taken.bytes);
    return into;
  }
  Answer ask(Request request, std::uint16_t value = 0) {
    const auto reply = server.control(setup_of(request, value, 0));
    REQUIRE(reply.handshake == Handshake::ack);
    const auto answer = read_answer(request, reply.bytes);
    REQUIRE(answer);
    CHECK(answer->complete);
    return *answer;
  }
};

}  // namespace

TEST_CASE("usbtmc server: an answer is given in pieces of what was asked for, EOM with the last", "[usbtmc]") {
  Bus bus;
  bus.send("abc?\n");
  std::string whole;
  for (int i = 0; i < 4; ++i) {
    CHECK(bus.request(5) == Handshake::ack);
    const auto transfer = bus.read();
    REQUIRE(transfer);
    const auto header = read_header(*transfer);
    REQUIRE(header);
    CHECK(header->tag == bus.tag);
    whole += transfer->substr(header_bytes);
    CHECK(((header->attributes & eom_bit) != 0) == (whole.size() == 15));
    if (whole.size() == 15) break;
  }
  CHECK(whole == "answer to abc?\n");
}

TEST_CASE("usbtmc server: an answer that fills its packets ends with an empty one", "[usbtmc]") {
  Bus bus;
  bus.send("TEXT? 499\n");
  bus.request(1000);
  const auto full = bus.read(1);
  REQUIRE(full);
  CHECK(full->size() == 512);
  const auto empty = bus.read(1);
  REQUIRE(empty);
  CHECK(empty->empty());
  CHECK_FALSE(bus.read(1));
  // In a read that has room the empty packet ends it.
  bus.send("TEXT? 499\n");
  bus.request(1000);
  const auto both = bus.read(2);
  REQUIRE(both);
  CHECK(both->size() == 512);
  CHECK_FALSE(bus.read(1));
}

TEST_CASE("usbtmc server: a bad transfer halts Bulk-OUT until CLEAR_FEATURE (USBTMC Table 7)", "[usbtmc]") {
  Bus bus;
  CHECK(bus.server.bulk_out("nonsense that is no header at all") == Handshake::stall);
  CHECK(bus.send("abc?\n") == Handshake::stall);
  CHECK(bus.server.clear_halt(bus.server.endpoints().bulk_out) == Trouble::none);
  CHECK(bus.send("abc?\n") == Handshake::ack);
  bus.request(100);
  CHECK(bus.read());
}

TEST_CASE("usbtmc server: a message longer than the limit halts Bulk-OUT", "[usbtmc]") {
  ServerOptions options;
  options.most_message_bytes = 100;
  Bus bus(options);
  CHECK(bus.send(std::string(60, 'a'), false) == Handshake::ack);
  CHECK(bus.send(std::string(60, 'a'), false) == Handshake::stall);
}

TEST_CASE("usbtmc server: a second request while one is open halts Bulk-IN (USBTMC Table 12)", "[usbtmc]") {
  Bus bus;
  bus.send("SLOW? 1000\n");
  bus.request(100);
  bus.request(100);
  std::array<char, 512> into{};
  CHECK(bus.server.bulk_in(into).handshake == Handshake::stall);
  CHECK(bus.server.clear_halt(bus.server.endpoints().bulk_in) == Trouble::none);
  bus.pass(2s);
  bus.request(100);
  CHECK(bus.read());
}

TEST_CASE("usbtmc server: errors of the message exchange reach the device (IEEE 488.2, 6.5.7)", "[usbtmc]") {
  Bus bus;
  bus.request(100);
  CHECK(bus.device->errors == std::vector{-420});  // asked without a query
  bus.send("first?\n");
  CHECK(bus.device->errors == std::vector{-420, -420});  // a message while an answer is being read
  bus.send("second?\n");
  CHECK(bus.device->errors == std::vector{-420, -420, -410});  // the first answer was not read
  bus.request(100);
  const auto transfer = bus.read();
  REQUIRE(transfer);
  CHECK(transfer->substr(header_bytes) == "answer to second?\n");
}

TEST_CASE("usbtmc server: split transactions keep their order (USBTMC 4.2.1)", "[usbtmc]") {
  Bus bus;
  CHECK(bus.ask(Request::check_clear_status).status == Status::split_not_in_progress);
  CHECK(bus.ask(Request::initiate_abort_bulk_in, 1).status == Status::failed);
  CHECK(bus.ask(Request::initiate_abort_bulk_out, 1).status == Status::failed);
  bus.send("SLOW? 1000\n");
  bus.request(100);
  CHECK(bus.ask(Request::initiate_abort_bulk_in, 77).status == Status::transfer_not_in_progress);
  const auto begun = bus.ask(Request::initiate_abort_bulk_in, bus.tag);
  CHECK(begun.status == Status::success);
  CHECK(begun.tag == bus.tag);
  CHECK(bus.ask(Request::ren_control, 1).status == Status::split_in_progress);
  const auto pending = bus.ask(Request::check_abort_bulk_in_status);
  CHECK(pending.status == Status::pending);
  CHECK(pending.fifo_not_empty);
  const auto empty = bus.read();
  REQUIRE(empty);
  CHECK(empty->empty());
  CHECK(bus.ask(Request::check_abort_bulk_in_status).status == Status::success);
  CHECK(bus.ask(Request::initiate_clear).status == Status::success);
  CHECK(bus.send("x\n") == Handshake::stall);  // until CLEAR_FEATURE
  CHECK(bus.ask(Request::check_clear_status).status == Status::success);
  CHECK(bus.device->clears == 1);
  bus.server.clear_halt(bus.server.endpoints().bulk_out);
  CHECK(bus.send("x\n") == Handshake::ack);
}

TEST_CASE("usbtmc server: requests of another type and unknown ones stall", "[usbtmc]") {
  Bus bus;
  CHECK(bus.server.control({0xA1, 99, 0, 0, 8}).handshake == Handshake::stall);
  CHECK(bus.server.control({0x21, 7, 0, 0, 24}).handshake == Handshake::stall);
  CHECK(bus.server.control({0xA1, 7, 0, 0, 24}).bytes.size() == capabilities_bytes);
  CHECK(bus.server.control({0xA1, 7, 0, 0, 5}).bytes.size() == 5);
}

TEST_CASE("usbtmc server: READ_STATUS_BYTE wants tags 2 to 127 and its last answer fetched", "[usbtmc]") {
  Bus bus;
  CHECK(bus.ask(Request::read_status_byte, 1).status == Status::failed);
  CHECK(bus.ask(Request::read_status_byte, 128).status == Status::failed);
  CHECK(bus.ask(Request::read_status_byte, 127).status == Status::success);
  CHECK(bus.ask(Request::read_status_byte, 2).status == Status::interrupt_in_busy);
  CHECK(bus.server.interrupt_in() == status_answer_packet(127, 4));
  CHECK_FALSE(bus.server.interrupt_in());
  bus.device->ask_for_service();
  bus.pass(0ms);
  CHECK(bus.server.interrupt_in() == service_request_packet(0x44));
}
