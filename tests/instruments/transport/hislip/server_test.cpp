// SPDX-License-Identifier: Apache-2.0
// The HiSLIP server before and around its sessions (IVI-6.1, 6.1 and 6.2), and client and server together over a wire
// that fails at every byte.
#include "instruments/transport/hislip/server.hpp"

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "instruments/transport/session.hpp"
#include "tests/instruments/transport/hislip/certificate_of_a_server.hpp"
#include "tests/instruments/transport/hislip/peer.hpp"
#include "tests/support/cut_wire.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

namespace {

constexpr base::Duration generous = 10s;

std::shared_ptr<ScriptedDevice> echo(base::Timeline& timeline, std::string name = "") {
  return std::make_shared<ScriptedDevice>(timeline, [name](std::string_view message, Reply& reply) -> base::Duration {
    if (message.ends_with('?')) reply.bytes = name + std::string(message);
    return message == "long?" ? 1h : 0h;
  });
}

using Body = std::function<task<>(base::Timeline&, HislipServer&)>;

void with_server(const Body& body, Listen listen = {}) {
  Wall wall;
  auto main = [](base::Timeline& timeline, const Body& inner, Listen wanted) -> task<> {
    HislipServer server(co_await boost::asio::this_coro::executor, timeline,
                        {{"hislip0", echo(timeline, "zero ")}, {"HISLIP1", echo(timeline, "one ")}}, wanted);
    co_await inner(timeline, server);
    while (server.clients() > 0) co_await timeline.sleep(1ms);
  };
  wall.run(main(*wall.timeline, body, listen));
}

task<Message> hello(Channel& channel, std::string sub_address, std::uint16_t version = version_1_0) {
  co_await send_message(channel, {MessageType::initialize, 0, initialize_parameter(version, "QQ")}, sub_address);
  co_return co_await next_message(channel);
}

task<std::string> ask(RawClient& client, std::string message) {
  co_await send_message(client.sync, {MessageType::data_end, 0, first_message_id}, std::move(message));
  co_return (co_await next_message(client.sync, MessageType::data_end)).payload;
}

}  // namespace

TEST_CASE("hislip server: the lower of both versions is used", "[transport]") {
  with_server([](base::Timeline&, HislipServer& server) -> task<> {
    struct Row {
      std::uint16_t asked, given;
    };
    for (const Row row : {Row{0x0100, 0x0100}, Row{0x0200, 0x0200}, Row{0x0101, 0x0101}, Row{0xFFFF, 0x0200}}) {
      auto client = co_await raw_client(server.port(), "hislip0", row.asked);
      CHECK(version_in(client.initialize_response.header.parameter) == row.given);
      CHECK(int{client.initialize_response.header.control} == 0);
    }
    Channel old = co_await connected(server.port());
    const auto refused = co_await hello(old, "hislip0", 0x0000);
    CHECK(refused.header.type == MessageType::fatal_error);
    CHECK(int{refused.header.control} == 3);
  });
}

TEST_CASE("hislip server: devices are found by sub-address without regard to case; the empty one is the default",
          "[transport]") {
  with_server([](base::Timeline&, HislipServer& server) -> task<> {
    for (const char* zero : {"hislip0", "HiSLIP0", ""}) {
      auto client = co_await raw_client(server.port(), zero);
      CHECK(co_await ask(client, "?") == "zero ?\n");
    }
    auto client = co_await raw_client(server.port(), "hislip1");
    CHECK(co_await ask(client, "?") == "one ?\n");
    Channel stranger = co_await connected(server.port());
    const auto refused = co_await hello(stranger, "hislip2");
    CHECK(refused.header.type == MessageType::fatal_error);
    CHECK(int{refused.header.control} == 3);
    CHECK(co_await is_closed(stranger));
  });
}

TEST_CASE("hislip server: a client that closes after Initialize is a probe, and leaves nothing behind", "[transport]") {
  with_server([](base::Timeline& timeline, HislipServer& server) -> task<> {
    for (int i = 0; i < 3; ++i) {
      Channel probe = co_await connected(server.port());
      CHECK((co_await hello(probe, "")).header.type == MessageType::initialize_response);
      CHECK(server.clients() == 1);
      probe.close();
      while (server.clients() > 0) co_await timeline.sleep(1ms);
    }
  });
}

TEST_CASE("hislip server: a second client is answered while the first waits", "[transport]") {
  with_server([](base::Timeline& timeline, HislipServer& server) -> task<> {
    const auto name = parse_resource_name(server.resource_name());
    const auto first = co_await hislip::connect(name);
    co_await first->write("long?");
    Session second(timeline, co_await hislip::connect(name));
    CHECK(co_await second.query("short?", generous) == "zero short?");
    CHECK(server.clients() == 2);
  });
}

TEST_CASE("hislip server: what is no right beginning is a fatal error with its code (6.2)", "[transport]") {
  struct Row {
    Header header;
    std::string payload;
    int code;
  };
  const Row rows[] = {{{MessageType::data_end, 0, first_message_id}, "*IDN?\n", 2},
                      {{MessageType::async_initialize, 0, 4711}, "", 3},
                      {{MessageType::async_initialize, 0, 0x10001}, "", 3},
                      {{MessageType::initialize, 0, 0x01005151}, std::string(257, 's'), 1},
                      {{MessageType::initialize_response, 0, 0}, "", 1}};
  with_server([&rows](base::Timeline&, HislipServer& server) -> task<> {
    for (const Row& row : rows) {
      CAPTURE(name_of(row.header.type));
      Channel channel = co_await connected(server.port());
      co_await send_message(channel, row.header, row.payload);
      const auto refused = co_await next_message(channel, MessageType::fatal_error);
      CHECK(int{refused.header.control} == row.code);
      CHECK(co_await is_closed(channel));
    }
    // Used before the second connection is there; and a second connection that is there already.
    Channel early = co_await connected(server.port());
    co_await hello(early, "");
    co_await send_message(early, {MessageType::data_end, 0, first_message_id}, "?\n");
    CHECK(int{(co_await next_message(early, MessageType::fatal_error)).header.control} == 2);
    auto client = co_await raw_client(server.port());
    Channel third = co_await connected(server.port());
    co_await send_message(third,
                          {MessageType::async_initialize, 0, session_in(client.initialize_response.header.parameter)});
    CHECK(int{(co_await next_message(third, MessageType::fatal_error)).header.control} == 3);
    CHECK(co_await ask(client, "still?") == "zero still?\n");
  });
}

TEST_CASE("hislip server: one client more than allowed is told so, and finds room when one goes", "[transport]") {
  with_server(
      [](base::Timeline& timeline, HislipServer& server) -> task<> {
        auto first = co_await raw_client(server.port());
        {
          auto second = co_await raw_client(server.port());
          Channel third = co_await connected(server.port());
          const auto refused = co_await hello(third, "");
          CHECK(refused.header.type == MessageType::fatal_error);
          CHECK(int{refused.header.control} == 4);
        }
        while (server.clients() > 1) co_await timeline.sleep(1ms);
        auto again = co_await raw_client(server.port());
        CHECK(co_await ask(again, "?") == "zero ?\n");
      },
      {.most_clients = 2});
}

TEST_CASE("hislip server: connections that say nothing are bounded in number", "[transport]") {
  with_server(
      [](base::Timeline&, HislipServer& server) -> task<> {
        std::vector<Channel> silent;
        for (int i = 0; i < 4; ++i) silent.push_back(co_await connected(server.port()));
        Channel more = co_await connected(server.port());
        CHECK(int{(co_await next_message(more, MessageType::fatal_error)).header.control} == 4);
      },
      {.most_clients = 2});
}

TEST_CASE("hislip server: a port that is taken is told with its number", "[transport]") {
  with_server([](base::Timeline& timeline, HislipServer& first) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    try {
      const HislipServer second(executor, timeline, {}, {.port = first.port()});
      FAIL("the port was served twice");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::no_connection);
      CHECK(error.record().where == "127.0.0.1 port " + std::to_string(first.port()));
    }
  });
}

TEST_CASE("hislip: after a restart of the instrument the link stands again, on the same port", "[transport]") {
  Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    auto server = std::make_unique<HislipServer>(executor, timeline, Devices{{"", echo(timeline)}}, Listen{});
    const auto port = server->port();
    Session session(timeline, co_await hislip::connect(parse_resource_name(server->resource_name())));
    CHECK(co_await session.query("a?", generous) == "a?");
    server.reset();
    server = std::make_unique<HislipServer>(executor, timeline, Devices{{"", echo(timeline)}}, Listen{.port = port});
    try {
      co_await session.query("b?", generous);
      FAIL("was answered over a connection that is gone");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::connection_lost);
    }
    CHECK(co_await session.query("c?", generous) == "c?");
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("hislip: a long message to an instrument that others have locked times out, and the link goes on",
          "[transport]") {
  with_server([](base::Timeline& timeline, HislipServer& server) -> task<> {
    const auto name = parse_resource_name(server.resource_name());
    Session owner(timeline, co_await hislip::connect(name));
    Session other(timeline, co_await hislip::connect(name));
    co_await owner.lock("", generous);
    try {
      co_await other.write(std::string(std::size_t{32} << 20U, 'x'), 100ms);
      FAIL("was taken");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::time_out);
      CHECK_THAT(error.record().message, Catch::EndsWith("; someone else has locked the instrument; 1 client holds a "
                                                         "lock, one of them exclusively"));
      CHECK_THAT(error.record().advice, Catch::StartsWith("release the lock there"));
    }
    // Cleared while the other one still holds the lock, in the same session: the half-sent message is finished.
    CHECK(int{co_await other.status_byte(generous)} == 0);
    CHECK(server.clients() == 2);
    co_await owner.unlock(generous);
    CHECK(co_await other.query("mine?", generous) == "zero mine?");
  });
}

namespace {

// One exchange over a wire that fails after so many bytes of it.
struct Step {
  const char* name;
  std::size_t answer_bytes;  // of the server, in this exchange
  std::function<task<>(Link&)> run;
};

task<> query_once(Link& link) {
  Buffer answer;
  co_await link.write("first?");
  co_await link.read(answer);
  CHECK(answer == "first?");
}

std::vector<Step> steps() {
  return {
      {"query", 16 + 7, query_once},
      {"clear", 16 + 16, [](Link& link) { return link.clear(); }},
      {"status", 16, [](Link& link) -> task<> { co_await link.status_byte(); }},
      {"lock", 16, [](Link& link) { return link.lock("", 5s); }},
      {"remote", 16, [](Link& link) { return link.remote_local(RemoteLocal::remote); }},
      {"trigger and query", 16 + 7,
       [](Link& link) -> task<> {
         co_await link.trigger();
         co_await query_once(link);
       }},
  };
}

// True: ended by the deadline or an error; both are right, an answer is not.
task<bool> fails_within(base::Timeline& timeline, base::Duration limit, task<> work) {
  bool failed = false;
  try {
    failed = !co_await base::finished_within(timeline, limit, std::move(work));
  } catch (const base::Error&) {
    failed = true;
  }
  co_return failed;
}

// The link is brought back by clear() alone; lost bytes may cost one attempt, which ends by its deadline.
task<> comes_back(base::Timeline& timeline, Link& link) {
  bool cleared = false;
  for (int attempt = 0; attempt < 3 && !cleared; ++attempt)
    cleared = !co_await fails_within(timeline, attempt == 0 ? 50ms : base::Duration(generous), link.clear());
  REQUIRE(cleared);
  Buffer answer;
  co_await link.write("back?");
  co_await link.read(answer);
  CHECK(answer == "back?");
}

task<> walk(base::Timeline& timeline, CutWire::Then then) {
  const auto executor = co_await boost::asio::this_coro::executor;
  HislipServer server(executor, timeline, {{"hislip0", echo(timeline)}}, {});
  CutWire wire(executor, server.port());
  const auto name = parse_resource_name("TCPIP::127.0.0.1::hislip0," + std::to_string(wire.port()) + "::INSTR");
  for (const Step& step : steps()) {
    for (std::size_t bytes = 0; bytes < step.answer_bytes; ++bytes) {
      CAPTURE(step.name, bytes);
      const auto link = co_await hislip::connect(name);
      wire.cut_after(bytes, then);
      CHECK(co_await fails_within(timeline, 10ms, step.run(*link)));
      wire.heal();
      co_await comes_back(timeline, *link);
      const auto before = wire.passed();
      co_await step.run(*link);
      CHECK(wire.passed() - before == step.answer_bytes);  // the walk has seen every byte
    }
  }
  auto open = [](ResourceName resource) -> task<> { co_await hislip::connect(resource); };
  constexpr std::size_t initialisation_bytes = 16 + 16 + 24;
  for (std::size_t bytes = 0; bytes < initialisation_bytes; ++bytes) {
    CAPTURE(bytes);
    wire.cut_after(bytes, then);
    CHECK(co_await fails_within(timeline, 10ms, open(name)));
    wire.heal();
    const auto before = wire.passed();
    const auto link = co_await hislip::connect(name);
    CHECK(wire.passed() - before >= initialisation_bytes);  // what was held comes, too
  }
}

}  // namespace

TEST_CASE("hislip: silence, loss or a cut at any byte of any exchange ends in time, and the link comes back",
          "[transport]") {
  const auto then = GENERATE(CutWire::Then::hold, CutWire::Then::lose, CutWire::Then::close);
  Wall wall;
  wall.run(walk(*wall.timeline, then));
}

namespace {

// By so many bytes the signatures of two handshakes differ from those of two others, and more.
constexpr std::size_t differing_bytes = 12;

task<> walk_encrypted_opening(base::Timeline& timeline, CutWire::Then then) {
  const auto executor = co_await boost::asio::this_coro::executor;
  Listen listen;
  listen.security = security(false);
  HislipServer server(executor, timeline, {{"hislip0", echo(timeline)}}, listen);
  CutWire wire(executor, server.port());
  const auto name = parse_resource_name("TCPIP::127.0.0.1::hislip0," + std::to_string(wire.port()) + "::INSTR");
  ClientOptions options;
  options.fingerprint = fingerprint();
  options.encrypt_login_only = true;
  const auto open = [&]() -> task<> { co_await hislip::connect(name, options); };
  const auto before = wire.passed();
  co_await open();
  const std::size_t whole = wire.passed() - before;
  CHECK(whole > 1000);  // two handshakes with a certificate
  // No message is shorter than 16 bytes, in the clear or encrypted: this meets each of them.
  for (std::size_t bytes = 0; bytes + differing_bytes < whole; bytes += 13) {
    CAPTURE(bytes, whole);
    wire.cut_after(bytes, then);
    CHECK(co_await fails_within(timeline, 20ms, open()));
    wire.heal();
    while (server.clients() > 0) co_await timeline.sleep(1ms);  // what was held is not counted with what follows
  }
  const auto link = co_await hislip::connect(name, options);
  co_await query_once(*link);
}

}  // namespace

TEST_CASE("hislip: silence, loss or a cut anywhere in an encrypted opening and its end ends in time", "[transport]") {
  const auto then = GENERATE(CutWire::Then::hold, CutWire::Then::lose, CutWire::Then::close);
  Wall wall;
  wall.run(walk_encrypted_opening(*wall.timeline, then));
}
