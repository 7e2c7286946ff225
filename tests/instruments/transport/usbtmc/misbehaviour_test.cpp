// SPDX-License-Identifier: Apache-2.0
// What instruments on USB really do, one row each: the first query of a row says what the user sees, and after a few
// more everything works again, without anybody pulling a cable. In simulated time. Most rows were met in the field;
// the standard's own words for them are in USBTMC 3.3 (answers), 4.1 (halts), 4.2.1 (abort and clear).
#include <catch2/catch.hpp>

#include <functional>

#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;
using base::ErrorCode;

namespace {

constexpr base::Duration within = 20s;  // longer than the whole ladder
constexpr std::size_t packet = 512;

// What a query of a row ends in.
struct Expected {
  std::optional<ErrorCode> code;  // empty: the right answer
  std::string says;               // in message or cause
};
const Expected right{};

struct Row {
  std::string name;
  std::function<void(test::SimulatedPort&)> begin;
  Expected first;
  std::string message = "first?";
  Quirks quirks{};
  std::vector<Expected> then = {right, right};
};

std::string answer_to(const std::string& message) {
  if (message.starts_with("TEXT? ")) return std::string(std::stoul(message.substr(6)), 'x');
  if (message.starts_with("BLOC? ")) {
    std::string block;
    scpi::append_block(block, test::bytes_of(std::stoul(message.substr(6))));
    return block;
  }
  return "answer to " + message;
}

// Changes the next `times` transfers of answers.
auto next_answers(int times, std::function<void(InTransfer&)> change) {
  return [times, change = std::move(change)](test::SimulatedPort& port) {
    port.now().in_transfer = [left = times, change](InTransfer& transfer) mutable {
      if (left-- > 0) change(transfer);
    };
  };
}
auto next_answer(std::function<void(InTransfer&)> change) { return next_answers(1, std::move(change)); }
auto all_answers(std::function<void(InTransfer&)> change) { return next_answers(1'000'000, std::move(change)); }

auto byte(std::size_t at, int value) {
  return [=](InTransfer& transfer) { transfer.bytes.at(at) = static_cast<char>(value); };
}

// The instrument answers this request so, the first `times` times.
struct Wrong {
  Request request;
  ControlReply reply;
  int times = 1'000'000;
};
auto status(Status value, bool fifo = false) {
  std::string bytes(8, '\0');
  bytes[0] = static_cast<char>(value);
  bytes[1] = fifo ? '\1' : '\0';
  return ControlReply{Handshake::ack, bytes};
}
const ControlReply stalls{Handshake::stall, {}};
const ControlReply never_answers{Handshake::nak, {}};

void answer_wrongly(test::SimulatedPort& port, std::vector<Wrong> wrongs) {
  port.now().control = [wrongs](Request request, const Setup& setup) mutable -> std::optional<ControlReply> {
    for (auto& wrong : wrongs) {
      if (wrong.request != request || wrong.times-- <= 0) continue;
      auto reply = wrong.reply;
      reply.bytes.resize(std::min<std::size_t>(reply.bytes.size(), setup.length));
      return reply;
    }
    return std::nullopt;
  };
}

// Gives no answer to the first query, and these answers to requests.
auto hangs_and(std::vector<Wrong> wrongs) {
  return [wrongs](test::SimulatedPort& port) { answer_wrongly(port, wrongs); };
}

auto halts_bulk_in(int times) {
  return [times](test::SimulatedPort& port) {
    port.now().halts_bulk_in = [left = times]() mutable { return left-- > 0; };
  };
}

auto bulk_out(int times, Handshake handshake) {
  return [=](test::SimulatedPort& port) {
    port.now().bulk_out = [left = times, handshake](std::string_view) mutable -> std::optional<Handshake> {
      if (left-- > 0) return handshake;
      return std::nullopt;
    };
  };
}

// A message that is never answered while the row's time runs.
const std::string silent = "SLOW? 3600000";
const Expected time_out{ErrorCode::time_out, "no answer within"};
const Expected was_reset{ErrorCode::connection_lost, "its USB port was reset; its settings may be lost"};
const Expected is_dead{ErrorCode::connection_lost, "cannot be made to answer"};

std::vector<Row> bad_packets() {
  const std::string fills_packet = "TEXT? " + std::to_string(packet - header_bytes - 1);  // and NL
  const auto no_empty_packet = all_answers([](InTransfer& t) { t.ends_short = false; });
  return {
      {"no empty packet behind an answer that fills its packet", no_empty_packet, right, fills_packet},
      {"no empty packet behind an answer that fills two packets", no_empty_packet, right, "TEXT? 1011"},
      {"an empty packet before each answer", all_answers([](InTransfer& t) { t.short_at = {0}; }), right},
      {"several empty packets before an answer", next_answer([](InTransfer& t) { t.short_at = {0, 0, 0}; }), right},
      {"empty packets without end",
       next_answer([](InTransfer& t) { t.short_at.assign(1000, 0); }),
       {ErrorCode::bad_answer, "16 empty packets in a row"}},
      {"empty packets without end in the middle",
       next_answer([](InTransfer& t) { t.short_at.assign(1000, packet); }),
       {ErrorCode::bad_answer, "16 empty packets in a row in the middle"},
       "TEXT? 3000"},
      {"an empty packet in the middle of an answer",
       next_answer([](InTransfer& t) { t.short_at = {packet, 2 * packet}; }), right, "TEXT? 3000"},
      {"a short packet in the middle of an answer",
       next_answer([](InTransfer& t) { t.short_at = {700}; }),
       {ErrorCode::bad_answer, "the transfer ended 2313 bytes before its TransferSize of 3001"},
       "TEXT? 3000"},
      {"a short packet in the middle of an answer, known",
       next_answer([](InTransfer& t) { t.short_at = {700}; }),
       right,
       "TEXT? 3000",
       {.short_packets_inside = true}},
      {"alignment bytes behind an answer", all_answers([](InTransfer& t) { t.bytes.append(30, 'z'); }), right},
      {"alignment bytes that fill the packet", all_answers([](InTransfer& t) { t.bytes.resize(packet, 'z'); }), right},
      {"alignment bytes in a packet of their own",
       all_answers([](InTransfer& t) { t.bytes.resize(packet + 100, '\2'); }), right},
      {"alignment bytes behind a long answer", all_answers([](InTransfer& t) { t.bytes.append(500, '\2'); }), right,
       "BLOC? 5000"},
  };
}

std::vector<Row> bad_headers() {
  const auto bad = [](std::string says) { return Expected{ErrorCode::bad_answer, std::move(says)}; };
  const auto more = [](InTransfer& t) {
    t.bytes.clear();
    append_message_in_header(t.bytes, 2, 100, eom_bit);  // the first request's bTag
    t.bytes.append(99, 'x').append(1, '\n');
  };
  return {
      {"the bTag of another request", next_answer(byte(1, 77)), bad("byte 1, bTag, is 77")},
      {"the bTag of another request, known", all_answers(byte(1, 77)), right, "first?", {.wrong_tag = true}},
      {"a wrong inverse of bTag", next_answer(byte(2, 0)), bad("byte 2 is 0x00")},
      {"a wrong inverse of bTag, known", all_answers(byte(2, 0)), right, "first?", {.wrong_tag = true}},
      {"MsgID 1 instead of 2", next_answer(byte(0, 1)), bad("MsgID, is 1 instead of 2")},
      {"MsgID 1 instead of 2, known", all_answers(byte(0, 1)), right, "first?", {.wrong_msg_id = true}},
      {"a header that ends early", next_answer([](InTransfer& t) { t.bytes.resize(5); }),
       bad("5 bytes cannot hold a header")},
      {"text where the header should be", next_answer([](InTransfer& t) { t.bytes.erase(0, header_bytes); }),
       bad("MsgID, is 97")},
      {"a TransferSize of 4 GiB", next_answer([](InTransfer& t) { t.bytes.replace(4, 4, 4, '\xFF'); }),
       bad("TransferSize, are 4294967295")},
      {"more announced than comes", next_answer(byte(4, 200)), bad("the transfer ended")},
      {"more than was asked for",
       next_answer(more),
       bad("at most 16 bytes were asked for"),
       "TEXT? 99",
       {.most_request_bytes = 16}},
      {"more than was asked for, known",
       next_answer(more),
       right,
       "TEXT? 99",
       {.most_request_bytes = 16, .more_than_asked = true}},
      {"EOM with nothing before it", next_answer([](InTransfer& t) {
         t.bytes.resize(header_bytes);
         t.bytes[4] = '\0';
       }),
       bad("answered with nothing")},
      {"transfers without data and without end",
       [](test::SimulatedPort& port) {
         next_answers(16, [](InTransfer& t) {
           t.bytes.resize(header_bytes);
           t.bytes[4] = '\0';
           t.bytes[8] = '\0';
         })(port);
       },
       bad("16 transfers in a row without data"),
       "TEXT? 100",
       {.most_request_bytes = 1}},
  };
}

std::vector<Row> bad_ends() {
  const auto no_eom = [](InTransfer& t) { t.bytes[8] = '\0'; };
  const auto eom = [](InTransfer& t) { t.bytes[8] = '\1'; };
  const auto instead = [](std::string text) {
    return next_answer([text](InTransfer& t) {
      t.bytes.resize(header_bytes);
      t.bytes[4] = static_cast<char>(text.size());
      t.bytes += text;
    });
  };
  return {
      {"EOM never", next_answer(no_eom), {ErrorCode::time_out, "no complete answer"}},
      {"EOM never, known, a text", all_answers(no_eom), right, "TEXT? 3000", {.eom_missing = true}},
      {"EOM never, known, a block", all_answers(no_eom), right, "BLOC? 3000", {.eom_missing = true}},
      {"EOM before the end of a block",
       next_answer(eom),
       {ErrorCode::bad_answer, "a block ends"},
       "BLOC? 3000",
       {.most_request_bytes = 1000}},
      {"EOM before the end of a block, known",
       all_answers(eom),
       right,
       "BLOC? 3000",
       {.most_request_bytes = 1000, .eom_too_early = true}},
      {"a header in the first transfer only, and no request wanted for the rest",
       next_answer([](InTransfer& t) {
         t.bytes[4] = static_cast<char>(packet - header_bytes & 0xFFU);
         t.bytes[5] = static_cast<char>((packet - header_bytes) >> 8U);
         t.bytes[8] = '\0';
       }),
       right,
       "BLOC? 4000",
       {.header_once = true}},
      {"an answer that ends with CR NL and a zero", instead({"answer to first?\r\n\0", 19}), right},
      {"an answer without NL", instead("answer to first?"), right},
      {"bytes behind the end of a block", instead("#13abcdef\n"), {ErrorCode::bad_answer, "should end the block"}},
      {"a block of a thousand million bytes",
       instead("#9999999999abc"),
       {ErrorCode::bad_answer, "the block at byte 1 announces 999999999 bytes"}},
  };
}

std::vector<Row> hanging() {
  const auto forever = 1'000'000;
  const auto clear_fails = Wrong{Request::initiate_clear, status(Status::failed)};
  return {
      {"no answer", hangs_and({}), time_out, silent},
      {"no answer, and abort is not known", hangs_and({{Request::initiate_abort_bulk_in, stalls}}), time_out, silent},
      {"no answer, and abort fails", hangs_and({{Request::initiate_abort_bulk_in, status(Status::failed)}}), time_out,
       silent},
      {"no answer, and abort knows of another transfer only",
       hangs_and({{Request::initiate_abort_bulk_in, status(Status::transfer_not_in_progress)}}), time_out, silent},
      {"no answer, and abort knows of the transfer at the third time",
       hangs_and({{Request::initiate_abort_bulk_in, status(Status::transfer_not_in_progress), 2}}), time_out, silent},
      {"no answer, and none to abort", hangs_and({{Request::initiate_abort_bulk_in, never_answers}}), time_out, silent},
      {"no answer, and an empty one to abort", hangs_and({{Request::initiate_abort_bulk_in, {Handshake::ack, {}}}}),
       time_out, silent},
      {"no answer, and a status of abort that nobody knows",
       hangs_and({{Request::initiate_abort_bulk_in, status(Status{0x17})}}), time_out, silent},
      {"no answer, and abort takes its time",
       hangs_and({{Request::check_abort_bulk_in_status, status(Status::pending, true), 5}}), time_out, silent},
      {"no answer, and abort never ends",
       hangs_and({{Request::check_abort_bulk_in_status, status(Status::pending, true)}}),
       time_out,
       silent,
       {},
       {was_reset, right, right}},
      {"no answer, and clear takes its time", hangs_and({{Request::check_clear_status, status(Status::pending), 5}}),
       time_out, silent},
      {"no answer, and clear wants to be read from",
       hangs_and({{Request::check_clear_status, status(Status::pending, true), 3}}), time_out, silent},
      {"no answer, and clear is refused once", hangs_and({{Request::initiate_clear, stalls, 1}}), time_out, silent},
      {"no answer, and clear fails", hangs_and({clear_fails}), time_out, silent, {}, {was_reset}},
      {"no answer, and clear never ends",
       hangs_and({{Request::check_clear_status, status(Status::pending), forever}}),
       time_out,
       silent,
       {},
       {was_reset}},
      {"no answer, and none to clear",
       hangs_and({{Request::initiate_clear, never_answers}}),
       time_out,
       silent,
       {},
       {was_reset}},
      {"no answer, and clear is known to wedge",
       hangs_and({{Request::initiate_clear, never_answers}}),
       time_out,
       "SLOW? 21000",
       {.no_clear = true}},
      {"no answer, clear fails, and a reset would be the end",
       hangs_and({clear_fails}),
       time_out,
       silent,
       {.no_reset = true},
       {is_dead}},
      {"no answer, clear fails, and so does the reset",
       [=](test::SimulatedPort& port) {
         hangs_and({clear_fails})(port);
         port.now().reset = [] { return Trouble::other; };
       },
       time_out,
       silent,
       {},
       {is_dead, is_dead}},
      {"no answer, clear fails, and the reset brings it back as a new device",
       [=](test::SimulatedPort& port) {
         hangs_and({clear_fails})(port);
         port.now().reset = [&port] {
           port.server->unplug();
           return Trouble::gone;
         };
       },
       time_out,
       silent,
       {},
       {was_reset, right, right}},
      {"no answer, and CLEAR_FEATURE fails after the clear",
       [=](test::SimulatedPort& port) {
         port.now().clear_halt = [left = 1]() mutable { return left-- > 0 ? Trouble::other : Trouble::none; };
       },
       time_out, silent},
      {"an answer that comes after the time-out", hangs_and({}), time_out, "SLOW? 20001"},
      {"a message that is never taken",
       bulk_out(forever, Handshake::nak),
       {ErrorCode::time_out, "no answer within"},
       "first?",
       {},
       {}},
      {"messages refused for ever",
       bulk_out(forever, Handshake::stall),
       {ErrorCode::bad_answer, "halted the transfer (endpoint 0x01, bTag 1)"},
       "first?",
       {},
       {}},
      {"a message refused once", bulk_out(1, Handshake::stall), right},
      {"a message refused twice", bulk_out(2, Handshake::stall), {ErrorCode::bad_answer, "halted the transfer"}},
      {"Bulk-IN halted once", halts_bulk_in(1), right, "SLOW? 100"},
      {"Bulk-IN halted twice", halts_bulk_in(2), {ErrorCode::bad_answer, "halted the transfer (endpoint 0x81"}},
      {"Bulk-IN halted in the middle of an answer",
       [](test::SimulatedPort& port) { port.now().halts_bulk_in = [reads = 0]() mutable { return ++reads == 3; }; },
       {ErrorCode::bad_answer, "in the middle of an answer"},
       "TEXT? 3000"},
  };
}

std::vector<Row> unplugged() {
  const Expected lost{ErrorCode::connection_lost, "unplugged or switched off"};
  return {
      {"unplugged while it is asked, and plugged in again",
       [](test::SimulatedPort& port) {
         port.now().bulk_out = [&port](std::string_view) -> std::optional<Handshake> {
           port.server->unplug();
           return std::nullopt;
         };
       },
       lost},
      {"unplugged while it answers, and plugged in again",
       [](test::SimulatedPort& port) {
         port.now().halts_bulk_in = [&port, reads = 0]() mutable {
           if (++reads == 3) port.server->unplug();
           return false;
         };
       },
       lost, "TEXT? 3000"},
      {"unplugged, and nobody plugs it in again",
       [](test::SimulatedPort& port) {
         port.is_plugged_in = false;
         port.server->unplug();
       },
       lost,
       "first?",
       {},
       {{ErrorCode::no_connection, "plugged in"}, {ErrorCode::no_connection, "plugged in"}}},
  };
}

task<> play(const Row& row, test::SimulatedPort& port) {
  const auto session = co_await port.session(row.quirks);
  row.begin(port);
  const auto check = [&](const std::string& message, const Expected& expected) -> task<> {
    const auto begun = port.sim.timeline->now();
    const auto outcome = co_await test::query(*session, message, within);
    CHECK(port.sim.timeline->now() - begun <= 2 * within);  // the clear before it, and itself
    if (!expected.code) {
      if (outcome.error) FAIL_CHECK(base::describe(*outcome.error));
      CHECK((outcome.answer == answer_to(message)));
      co_return;
    }
    REQUIRE(outcome.error);
    CHECK(outcome.error->code == *expected.code);
    CHECK_THAT(outcome.error->message + outcome.error->cause, Catch::Contains(expected.says));
    CHECK(outcome.error->where == test::SimulatedPort::name);
    CHECK_FALSE(outcome.error->advice.empty());
  };
  INFO("the first query");
  co_await check(row.message, row.first);
  for (std::size_t i = 0; i < row.then.size(); ++i) {
    INFO("query " << i + 2);
    co_await check("next?", row.then[i]);
  }
}

void play_all(const std::vector<Row>& rows) {
  for (const auto& row : rows) {
    INFO(row.name);
    test::SimulatedPort port;
    port.sim.run(play(row, port));
  }
}

}  // namespace

TEST_CASE("usbtmc misbehaviour: packets that are empty, short, or too many", "[usbtmc]") { play_all(bad_packets()); }

TEST_CASE("usbtmc misbehaviour: headers that do not answer the request", "[usbtmc]") { play_all(bad_headers()); }

TEST_CASE("usbtmc misbehaviour: ends that come too early, late or never", "[usbtmc]") { play_all(bad_ends()); }

TEST_CASE("usbtmc misbehaviour: silence and refusals, up the whole ladder of recovery", "[usbtmc]") {
  play_all(hanging());
}

TEST_CASE("usbtmc misbehaviour: cables that are pulled", "[usbtmc]") { play_all(unplugged()); }

TEST_CASE("usbtmc misbehaviour: the table has at least forty rows", "[usbtmc]") {
  CHECK(bad_packets().size() + bad_headers().size() + bad_ends().size() + hanging().size() + unplugged().size() >= 40);
}
