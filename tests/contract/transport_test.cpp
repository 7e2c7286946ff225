// SPDX-License-Identifier: Apache-2.0
// One suite over every transport: what link.hpp and device.hpp promise, seen through a Session as every user sees it. A
// new transport is one more entry in carriers(). Memory and USB run in simulated time, what has real descriptors on the
// wall clock.
#include <catch2/catch.hpp>

#include <functional>
#include <set>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "instruments/scpi/block.hpp"
#include "instruments/scpi/message/response_reader.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/serial/client.hpp"
#include "instruments/transport/serial/server.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/socket/client.hpp"
#include "instruments/transport/socket/server.hpp"
#include "instruments/transport/usbtmc/client.hpp"
#include "instruments/transport/usbtmc/simulated_pipe.hpp"
#include "instruments/transport/vxi11/client.hpp"
#include "instruments/transport/vxi11/server.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

// What a test gets: a clock, and a session with a device, over some carrier.
struct Bench {
  base::Timeline& timeline;
  Session& session;
};
using Body = std::function<task<>(Bench)>;

using MakeDevice = std::function<std::shared_ptr<Device>(base::Timeline&)>;

struct CarrierUnderTest {
  std::string name;
  std::function<void(const MakeDevice&, const Body&)> run;
  bool out_of_band = true;  // carries serial polls, locks, remote and local
  bool service = true;      // carries service requests
  bool shared = true;       // several programs can use the instrument, so its locks are its own
};

task<> over_memory(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  Session session(timeline, co_await memory::connect(std::move(device), "MEMORY0::m::INSTR"));
  co_await body({timeline, session});
}

task<> over_socket(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const socket::SocketServer server(executor, std::move(device), {});
  Session session(timeline, co_await socket::connect(parse_resource_name(server.resource_name())));
  co_await body({timeline, session});
}

// The two queries with which the serial transport clears a line; everything else goes to the device under test.
class WithStandardQueries final : public Device {
 public:
  explicit WithStandardQueries(std::shared_ptr<Device> inner) : inner_(std::move(inner)) {}

  task<> execute(std::string_view message, Reply& reply) override {
    if (message == "*IDN?") {
      reply.bytes = "Eyelevel,Tested,0,1.0";
    } else if (message == "*STB?") {
      reply.bytes = "32";
    } else {
      co_await inner_->execute(message, reply);
    }
  }
  void clear() override { inner_->clear(); }

 private:
  std::shared_ptr<Device> inner_;
};

task<> over_serial(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const test::TemporaryFolder folder;
  const serial::SerialServer server(executor, std::make_shared<WithStandardQueries>(std::move(device)),
                                    folder.path() / "line");
  Session session(timeline, co_await serial::connect(parse_resource_name(server.resource_name())));
  co_await body({timeline, session});
}

task<std::shared_ptr<usbtmc::Pipe>> plugged_in(boost::asio::any_io_executor executor, std::shared_ptr<Device> device) {
  co_return usbtmc::simulated_pipe(
      std::make_shared<usbtmc::UsbtmcServer>(executor, std::move(device), usbtmc::ServerOptions{}));
}

// Opened anew, the same instrument is there again.
task<> over_usbtmc(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const usbtmc::OpenPipe open = [executor, device] { return plugged_in(executor, device); };
  Session session(timeline, co_await usbtmc::connect(timeline, "USB0::0x1234::0x5678::1::0::INSTR", open, {}));
  co_await body({timeline, session});
}

task<> over_vxi11(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const vxi11::Vxi11Server server(executor, timeline, {{"inst0", std::move(device)}}, {});
  vxi11::Options options;
  options.portmapper_port = server.portmapper_port();
  Session session(timeline, co_await vxi11::connect(parse_resource_name(server.resource_name()), options));
  co_await body({timeline, session});
}

task<> over_hislip(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const hislip::HislipServer server(executor, timeline, {{"hislip0", std::move(device)}}, {});
  Session session(timeline, co_await hislip::connect(parse_resource_name(server.resource_name())));
  co_await body({timeline, session});
}

task<> over_hislip_overlapped(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const hislip::HislipServer server(executor, timeline, {{"hislip0", std::move(device)}}, {});
  hislip::ClientOptions options;
  options.mode = hislip::Mode::overlapped;
  Session session(timeline, co_await hislip::connect(parse_resource_name(server.resource_name()), options));
  co_await body({timeline, session});
}

// On the wall clock, for whatever has real descriptors.
template <class Over>
CarrierUnderTest real(std::string name, Over over, bool out_of_band, bool service = true) {
  return {std::move(name),
          [over](const MakeDevice& make, const Body& body) {
            test::Wall wall;
            wall.run(over(*wall.timeline, make(*wall.timeline), body));
          },
          out_of_band, service};
}

// In simulated time.
template <class Over>
CarrierUnderTest simulated(std::string name, Over over, bool shared = true) {
  return {.name = std::move(name),
          .run =
              [over](const MakeDevice& make, const Body& body) {
                test::Simulated sim;
                sim.run(over(*sim.timeline, make(*sim.timeline), body));
              },
          .shared = shared};
}

std::vector<CarrierUnderTest> carriers() {
  return {simulated("memory", over_memory),
          simulated("usbtmc", over_usbtmc, false),
          real("socket", over_socket, false),
          real("serial", over_serial, false, false),
          real("vxi11", over_vxi11, true),
          real("hislip", over_hislip, true),
          real("hislip, overlapped", over_hislip_overlapped, true)};
}

// Empty names: all of them.
void on_carriers(const std::set<std::string>& names, const test::ScriptedDevice::Script& script, const Body& body) {
  for (const auto& carrier : carriers()) {
    if (!names.empty() && !names.contains(carrier.name)) continue;
    INFO("over " << carrier.name);
    carrier.run([&](base::Timeline& timeline) { return std::make_shared<test::ScriptedDevice>(timeline, script); },
                body);
  }
}

void on_every_carrier(const test::ScriptedDevice::Script& script, const Body& body) { on_carriers({}, script, body); }

// Long enough for a loaded machine, short enough to wait for.
constexpr base::Duration generous = 10s;
constexpr base::Duration short_wait = 30ms;

// Sizes around every buffer edge that the transports have or might have.
std::vector<std::size_t> edge_sizes() {
  std::vector<std::size_t> sizes{0, 1, 2, 3};
  for (const std::size_t edge : {512U, 1024U, 4096U, 8192U, 65536U, 131072U, 196608U, 262144U, 1048576U})
    for (const int off : {-13, -9, -8, -2, -1, 0, 1, 2, 8, 9}) sizes.push_back(edge + static_cast<std::size_t>(off));
  return sizes;
}

// Bytes that hold NL, CR, quotes, '#', ';' and every other value.
std::string pattern(std::size_t size) {
  std::string bytes(size, '\0');
  std::uint32_t x = 1;
  for (char& c : bytes) {
    x = x * 1664525U + 1013904223U;
    c = (x >> 28U) == 0 ? '\n' : static_cast<char>(x >> 24U);
  }
  return bytes;
}

std::size_t number_in(std::string_view message) {
  return static_cast<std::size_t>(std::stoul(std::string(message.substr(message.find(' ') + 1))));
}

// "BLOC? n" gives a block of n bytes, "TEXT? n" n letters, "TAKE name,<block>" nothing, "SIZE?" the bytes of the
// message before, anything else itself.
test::ScriptedDevice::Script obliging() {
  auto before = std::make_shared<std::size_t>(0);
  return [before](std::string_view message, Reply& reply) {
    if (message.starts_with("BLOC? ")) {
      scpi::append_block(reply.bytes, pattern(number_in(message)));
    } else if (message.starts_with("TEXT? ")) {
      reply.bytes.assign(number_in(message), 'x');
    } else if (message == "SIZE?") {
      reply.bytes = std::to_string(*before);
    } else if (!message.starts_with("TAKE ")) {
      reply.bytes = "echo " + std::string(message);
    }
    *before = message.size();
    return base::Duration(0);
  };
}

task<> paced() { co_return; }

task<std::optional<base::ErrorRecord>> error_of(Session& session, std::string message, base::Duration within) {
  std::optional<base::ErrorRecord> record;
  try {
    co_await session.query(message, within);
  } catch (const base::Error& error) {
    record = error.record();
  }
  co_return record;
}

}  // namespace

TEST_CASE("transport contract: blocks and texts of every size around the buffer edges arrive whole", "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    Buffer answer;
    for (const std::size_t size : edge_sizes()) {
      CAPTURE(size);
      const std::string block_query = "BLOC? " + std::to_string(size);
      co_await bench.session.query(block_query, answer, generous);
      scpi::ResponseReader reader(answer);
      REQUIRE((reader.block() == pattern(size)));
      reader.end();
      if (size == 0) continue;  // nothing to say is no answer
      const std::string text_query = "TEXT? " + std::to_string(size);
      co_await bench.session.query(text_query, answer, generous);
      REQUIRE((answer == std::string(size, 'x')));
    }
  });
}

TEST_CASE("transport contract: program messages of every size around the buffer edges arrive whole", "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    for (const std::size_t size : edge_sizes()) {
      CAPTURE(size);
      std::string message = "TAKE A,";
      scpi::append_block(message, pattern(size));
      co_await bench.session.write(message, generous);
      REQUIRE(co_await bench.session.query("SIZE?", generous) == std::to_string(message.size()));
    }
  });
}

TEST_CASE("transport contract: several blocks and elements make one answer", "[contract]") {
  const auto script = [](std::string_view, Reply& reply) {
    reply.bytes = "1,#12\n\n,2;#13;\n,,\"a\"";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    CHECK(co_await bench.session.query("?", generous) == "1,#12\n\n,2;#13;\n,,\"a\"");
  });
}

TEST_CASE("transport contract: an instrument that is silent from any byte on ends in a time-out, then works again",
          "[contract]") {
  const std::string answer = "1.5,#15ab\nc\n,ok";
  const auto script = [answer](std::string_view message, Reply& reply) {
    reply.bytes = answer;
    if (message.starts_with("STOP? ")) {
      reply.bytes.resize(number_in(message));
      reply.terminated = false;
    }
    return base::Duration(0);
  };
  on_every_carrier(script, [answer](Bench bench) -> task<> {
    for (std::size_t bytes = 0; bytes <= answer.size(); ++bytes) {
      CAPTURE(bytes);
      // A busy machine may not have carried all bytes within so short a time: then it gets more.
      std::optional<base::ErrorRecord> error;
      for (base::Duration wait = short_wait; wait < 5s; wait *= 4) {
        error = co_await error_of(bench.session, "STOP? " + std::to_string(bytes), wait);
        if (!error || error->received == answer.substr(0, bytes)) break;
      }
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::time_out);
      CHECK(error->received == answer.substr(0, bytes));
      CHECK(co_await bench.session.query("ALL?", generous) == answer);
    }
  });
}

TEST_CASE("transport contract: an instrument that closes at any byte is a lost connection, then works again",
          "[contract]") {
  const std::string answer = "1.5,#15ab\nc\n,ok";
  const auto script = [answer](std::string_view message, Reply& reply) {
    reply.bytes = answer;
    if (message.starts_with("STOP? ")) {
      reply.bytes.resize(number_in(message));
      reply.close_after = true;
      reply.terminated = false;
    }
    return base::Duration(0);
  };
  on_every_carrier(script, [answer](Bench bench) -> task<> {
    for (std::size_t bytes = 0; bytes <= answer.size(); ++bytes) {
      CAPTURE(bytes);
      const auto error = co_await error_of(bench.session, "STOP? " + std::to_string(bytes), generous);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::connection_lost);
      CHECK(bench.session.dirty());
      CHECK(co_await bench.session.query("ALL?", generous) == answer);
    }
  });
}

TEST_CASE("transport contract: after a time-out a late answer is never taken for the next one", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) -> base::Duration {
    reply.bytes = "answer to " + std::string(message);
    return message == "late?" ? 3 * short_wait : base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    for (int round = 0; round < 3; ++round) {
      const auto error = co_await error_of(bench.session, "late?", short_wait);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::time_out);
      CHECK(error->sent == "late?");
      // At once, and after the late answer was due.
      CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
      co_await bench.timeline.sleep(4 * short_wait);
      CHECK(co_await bench.session.query("again?", generous) == "answer to again?");
    }
  });
}

TEST_CASE("transport contract: a block whose announced length is wrong is an error, never an answer", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "more?" ? "#3020" + std::string(16, 'x') : "#3016" + std::string(20, 'x');
    if (message == "right?") reply.bytes = "#3016" + std::string(16, 'x');
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    for (const char* wrong : {"more?", "less?"}) {
      CAPTURE(wrong);
      const auto error = co_await error_of(bench.session, wrong, short_wait);
      REQUIRE(error);
      // Where the carrier does not tell the end of a message, too few bytes can only be waited for.
      const bool told = error->code == base::ErrorCode::bad_answer || error->code == base::ErrorCode::time_out;
      CHECK(told);
      CHECK(co_await bench.session.query("right?", generous) == "#3016" + std::string(16, 'x'));
    }
  });
}

TEST_CASE("transport contract: cancellation reaches the wait, and the next answer is the right one", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) -> base::Duration {
    reply.bytes = "answer to " + std::string(message);
    return message == "slow?" ? 1h : 0h;
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    auto slow = [](Session& session) -> task<> { co_await session.query("slow?", 2h); };
    CHECK_FALSE(co_await base::finished_within(bench.timeline, short_wait, slow(bench.session)));
    CHECK(bench.session.dirty());
    if (bench.session.resource_name().starts_with("ASRL")) {
      // A serial line has no device clear: what is executed can only be waited for, and the wait has an end.
      const auto error = co_await error_of(bench.session, "next?", short_wait);
      REQUIRE(error);
      CHECK(error->code == base::ErrorCode::time_out);
      CHECK_THAT(error->message, Catch::Contains("could not be cleared"));
      CHECK(bench.session.dirty());
      co_return;
    }
    CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
  });
}

TEST_CASE("transport contract: an answer beyond the limit is refused without being stored", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "huge?" ? "#9999999999abc" : "ok";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    const auto error = co_await error_of(bench.session, "huge?", generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::bad_answer);
    CHECK_THAT(error->message, Catch::Contains("999999999 bytes"));
    CHECK(co_await bench.session.query("next?", generous) == "ok");
  });
}

TEST_CASE("transport contract: the caller's limit for an answer holds, and the error names the instrument",
          "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "long?" ? std::string(1'000'000, 'A') : "ok";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    Buffer answer;
    std::optional<base::ErrorRecord> error;
    try {
      co_await bench.session.query("long?", answer, generous, 1000);
    } catch (const base::Error& e) {
      error = e.record();
    }
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::bad_answer);
    CHECK(error->where == bench.session.resource_name());
    CHECK_THAT(error->message, Catch::Contains("limit of 1000 bytes"));
    CHECK(error->received.size() <= 400);
    CHECK(co_await bench.session.query("next?", generous) == "ok");
  });
}

TEST_CASE(
    "transport contract: a block whose length is negative or no number is text, which no reader takes for a block",
    "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = message == "negative?" ? "#2-5abc" : message == "letters?" ? "#A12345" : "#10";
    return base::Duration(0);
  };
  on_every_carrier(script, [](Bench bench) -> task<> {
    for (const auto& [query, bytes] : {std::pair{"negative?", "#2-5abc"}, std::pair{"letters?", "#A12345"}}) {
      const auto answer = co_await bench.session.query(query, generous);
      CHECK(answer == bytes);
      CHECK_THROWS_AS(scpi::ResponseReader(answer).block(), base::Error);
    }
    const auto empty = co_await bench.session.query("zero?", generous);
    CHECK(scpi::ResponseReader(empty).block().empty());
  });
}

TEST_CASE("transport contract: an answer to another message is passed over, and told with the time-out", "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = "answer to " + std::string(message);
    reply.wrong_id = message == "stray?";
    return base::Duration(0);
  };
  on_carriers({"vxi11", "hislip"}, script, [](Bench bench) -> task<> {
    const auto error = co_await error_of(bench.session, "stray?", short_wait);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::time_out);
    CHECK_THAT(error->message, Catch::EndsWith("; 1 answer to other messages came and was passed over"));
    CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
  });
}

TEST_CASE("transport contract: a message of another type where an answer should be is an error, then it works again",
          "[contract]") {
  const auto script = [](std::string_view message, Reply& reply) {
    reply.bytes = "answer to " + std::string(message);
    reply.wrong_type = message == "odd?";
    return base::Duration(0);
  };
  on_carriers({"vxi11", "hislip"}, script, [](Bench bench) -> task<> {
    const auto error = co_await error_of(bench.session, "odd?", generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::bad_answer);
    CHECK(error->where == bench.session.resource_name());
    CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
  });
}

TEST_CASE("transport contract: an answer byte by byte is whole, and one without an end is refused at the limit",
          "[contract]") {
  on_carriers(
      {"socket", "vxi11", "hislip", "hislip, overlapped"},
      [](std::string_view message, Reply& reply) {
        reply.bytes = message == "endless?" ? std::string(5000, 'A') : "answer to " + std::string(message);
        reply.endless = message == "endless?";
        reply.terminated = !reply.endless;
        if (message == "slow?") reply.pace = [] { return paced(); };
        return base::Duration(0);
      },
      [](Bench bench) -> task<> {
        CHECK(co_await bench.session.query("slow?", generous) == "answer to slow?");
        Buffer answer;
        std::optional<base::ErrorRecord> error;
        try {
          co_await bench.session.query("endless?", answer, generous, 100'000);
        } catch (const base::Error& e) {
          error = e.record();
        }
        REQUIRE(error);
        CHECK(error->code == base::ErrorCode::bad_answer);
        CHECK_THAT(error->message, Catch::Contains("limit of 100000 bytes"));
        CHECK(co_await bench.session.query("next?", generous) == "answer to next?");
      });
}

TEST_CASE("transport contract: a closed session says that it is closed", "[contract]") {
  on_every_carrier(obliging(), [](Bench bench) -> task<> {
    bench.session.close();
    const auto error = co_await error_of(bench.session, "anybody?", generous);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::connection_lost);
  });
}

// What follows needs a device that knows more than messages.
namespace {

class PolledDevice final : public Device {
 public:
  explicit PolledDevice(base::Timeline& timeline) : timeline_(timeline) {}

  task<> execute(std::string_view message, Reply& reply) override {
    messages.emplace_back(message);
    if (message.starts_with("ASK ")) {  // for service, after so many milliseconds
      co_await timeline_.sleep(std::chrono::milliseconds(number_in(message)));
      ++requests_;
      asked_.strike();
    } else if (message == "*STB?") {
      reply.bytes = "32";
    } else if (message == "SYST:COMM:TCP:CONT?") {
      reply.bytes = std::to_string(control_port_);
    } else if (message == "ECHO?") {
      reply.bytes = "echo";
    }
  }
  void clear() override {}
  std::uint8_t serial_poll(bool message_available) override {
    ++polls;
    return static_cast<std::uint8_t>(0x20U | (message_available ? 0x10U : 0U));
  }
  std::uint8_t status_byte(bool message_available) override {
    return static_cast<std::uint8_t>(0x60U | (message_available ? 0x10U : 0U));
  }
  std::uint64_t service_requests() override { return requests_; }
  task<std::uint64_t> service_requested(std::uint64_t seen) override {
    while (requests_ <= seen) co_await asked_.wait();
    co_return requests_;
  }
  void control_is_at(std::uint16_t port) override { control_port_ = port; }
  void remote_local(RemoteLocal what) override { control.push_back(what); }

  std::vector<std::string> messages;
  std::vector<RemoteLocal> control;
  int polls = 0;

 private:
  base::Timeline& timeline_;
  std::uint64_t requests_ = 0;
  std::uint16_t control_port_ = 0;
  base::Gong asked_;
};

using PolledBody = std::function<task<>(Bench, PolledDevice&, const CarrierUnderTest&)>;

void with_polled_device(const PolledBody& body) {
  for (const auto& carrier : carriers()) {
    INFO("over " << carrier.name);
    std::shared_ptr<PolledDevice> device;
    carrier.run([&](base::Timeline& timeline) { return device = std::make_shared<PolledDevice>(timeline); },
                [&](Bench bench) { return body(bench, *device, carrier); });
  }
}

template <class Attempt>
task<std::optional<base::ErrorRecord>> error_in(Attempt attempt) {
  std::optional<base::ErrorRecord> record;
  try {
    co_await attempt();
  } catch (const base::Error& error) {
    record = error.record();
  }
  co_return record;
}

}  // namespace

TEST_CASE("transport contract: a trigger reaches the instrument after what was sent before", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest&) -> task<> {
    co_await bench.session.write("INIT", generous);
    co_await bench.session.trigger(generous);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    CHECK(device.messages == std::vector<std::string>{"INIT", "*TRG", "ECHO?"});
  });
}

TEST_CASE("transport contract: the status byte comes out of band where the carrier can, else from *STB?",
          "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest& carrier) -> task<> {
    CHECK(int{co_await bench.session.status_byte(generous)} == 0x20);
    CHECK(device.polls == (carrier.out_of_band ? 1 : 0));
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    CHECK(int{co_await bench.session.status_byte(generous)} == 0x20);  // the answer is read: nothing is available
  });
}

TEST_CASE("transport contract: a service request is waited for, and one that came before is not lost", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice&, const CarrierUnderTest& carrier) -> task<> {
    if (!carrier.service) {
      const auto refused = co_await error_in([&] { return bench.session.wait_for_service(generous); });
      REQUIRE(refused);
      CHECK(refused->code == base::ErrorCode::bad_input);
      CHECK_FALSE(bench.session.dirty());
      co_return;
    }
    CHECK_FALSE(co_await bench.session.wait_for_service(short_wait));
    CHECK_FALSE(bench.session.dirty());
    co_await bench.session.write("ASK 20", generous);
    CHECK(co_await bench.session.wait_for_service(generous));
    CHECK(int{co_await bench.session.status_byte(generous)} == 0x20);
    co_await bench.session.write("ASK 0", generous);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    CHECK(co_await bench.session.wait_for_service(generous));
    CHECK_FALSE(co_await bench.session.wait_for_service(short_wait));
  });
}

TEST_CASE("transport contract: a lock is taken, not given to others, and released", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest& carrier) -> task<> {
    if (!carrier.out_of_band) {
      const auto refused = co_await error_in([&] { return bench.session.lock("", generous); });
      REQUIRE(refused);
      CHECK(refused->code == base::ErrorCode::bad_input);
      co_return;
    }
    co_await bench.session.lock("", generous);
    CHECK(device.access.is_exclusive() == carrier.shared);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    const auto twice = co_await error_in([&] { return bench.session.lock("", short_wait); });
    REQUIRE(twice);
    co_await bench.session.unlock(generous);
    CHECK_FALSE(device.access.is_exclusive());
    if (!carrier.shared) co_return;  // whoever has opened it is alone
    const auto stranger = device.access.new_holder();
    REQUIRE(device.access.take(stranger, ""));
    const auto locked = co_await error_in([&] { return bench.session.lock("", short_wait); });
    REQUIRE(locked);
    CHECK(locked->code == base::ErrorCode::no_connection);
    CHECK_THAT(locked->message, Catch::Contains("lock"));
    device.access.forget(stranger);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
  });
}

TEST_CASE("transport contract: remote and local reach the instrument", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest& carrier) -> task<> {
    if (!carrier.out_of_band) {
      const auto refused = co_await error_in([&] { return bench.session.remote_local(RemoteLocal::local, generous); });
      CHECK(refused);
      co_return;
    }
    co_await bench.session.remote_local(RemoteLocal::remote, generous);
    co_await bench.session.remote_local(RemoteLocal::local, generous);
    CHECK(device.control == std::vector<RemoteLocal>{RemoteLocal::remote, RemoteLocal::local});
  });
}
