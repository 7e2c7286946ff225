// SPDX-License-Identifier: Apache-2.0
// Each misbehaviour as a client meets it, over the memory transport.
#include "sim/instrument/misbehaviour.hpp"

#include <catch2/catch.hpp>

#include <set>

#include "core/base/error.hpp"
#include "instruments/scpi/message/response_reader.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/session.hpp"
#include "sim/instrument/multimeter.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

// A scope with a fault; the answer, or the error's name.
struct Faulty {
  explicit Faulty(const Fault& fault) {
    auto scope = std::make_shared<SimulatedOscilloscope>(*sim.timeline, ScopeClass{}, base::Random(1));
    scope->connect(1, test::constant_source(0.5), {.factor = 1});
    device = std::make_shared<MisbehavingDevice>(*sim.timeline, std::move(scope));
    device->add(fault);
    sim.run(open(*this));
  }
  ~Faulty() { session.reset(); }

  static task<> open(Faulty& self) {
    self.session = std::make_unique<transport::Session>(
        *self.sim.timeline, co_await transport::memory::connect(self.device, "MEMORY0::m::INSTR"));
  }
  static task<> exchange(Faulty& self, std::string message, std::string& answer) {
    try {
      if (message.find('?') == std::string::npos) {
        co_await self.session->write(message, 2s);
      } else {
        answer = co_await self.session->query(message, 2s);
      }
    } catch (const base::Error& error) {
      answer = name_of(error.record().code);
    }
  }
  std::string operator()(const std::string& message) {
    std::string answer;
    sim.run(exchange(*this, message, answer));
    return answer;
  }

  test::Simulated sim;
  std::shared_ptr<MisbehavingDevice> device;
  std::unique_ptr<transport::Session> session;
};

}  // namespace

TEST_CASE("misbehaviours: silent from the n-th query on, for as many as stated", "[sim]") {
  Faulty ask({.kind = Misbehaviour::silent, .from_query = 2, .queries = 1});
  CHECK(ask("*TST?") == "0");
  CHECK(ask("*TST?") == "time_out");
  CHECK(ask("*TST?") == "0");
}

TEST_CASE("misbehaviours: a late answer comes late, and behaving ends it", "[sim]") {
  Faulty ask({.kind = Misbehaviour::late, .delay_s = 1});
  CHECK(ask("*TST?") == "0");
  CHECK(ask.sim.timeline->now() == 1s);
  ask.device->add({.kind = Misbehaviour::late, .delay_s = 5});
  CHECK(ask("*TST?") == "time_out");
  ask.device->behave();
  CHECK(ask("*ESE 3;*ESE?") == "3");
}

TEST_CASE("misbehaviours: garbage, a closed connection and wrong block lengths", "[sim]") {
  const std::string garbage = Faulty({.kind = Misbehaviour::garbage})("*TST?");
  CHECK_FALSE(garbage.empty());
  CHECK_THROWS_AS(scpi::ResponseReader(garbage).number(), base::Error);
  const std::string capture = "FORM REAL,32;:SWE:POIN 100;:READ?";
  CHECK(Faulty({.kind = Misbehaviour::close_in_answer})(capture) == "connection_lost");
  CHECK(Faulty({.kind = Misbehaviour::block_too_short})(capture) == "bad_answer");
  CHECK(Faulty({.kind = Misbehaviour::block_too_long})(capture) == "bad_answer");
  CHECK(Faulty({.kind = Misbehaviour::stops_within_answer})(capture) == "time_out");
}

TEST_CASE("misbehaviours: one value in the middle is not a number", "[sim]") {
  Faulty ask({.kind = Misbehaviour::not_a_number});
  const std::string answer = ask("FORM REAL,32;:FORM:BORD SWAP;:SWE:POIN 100;:READ?");
  const auto block = scpi::ResponseReader(answer).block();
  REQUIRE(block.size() == 400);
  std::vector<float> volts(100);
  std::memcpy(volts.data(), block.data(), 400);
  CHECK(std::count_if(volts.begin(), volts.end(), [](float v) { return std::isnan(v); }) == 1);
  CHECK(std::isnan(volts[50]));
  CHECK(ask("*ESE?") == "9.91E+37");
  CHECK(ask("*IDN?") == "Eyelevel,Simulated oscilloscope,0,1.0");
}

TEST_CASE("misbehaviours: an error appears in the queue", "[sim]") {
  Faulty ask({.kind = Misbehaviour::error_in_queue, .queries = 1, .error = -310});
  CHECK(ask("*TST?") == "0");
  CHECK(ask("SYST:ERR?") == "-310,\"System error;simulated\"");
  CHECK(ask("SYST:ERR?") == "0,\"No error\"");
}

TEST_CASE("misbehaviours: a setting is accepted and not taken", "[sim]") {
  Faulty ask({.kind = Misbehaviour::setting_not_taken, .header = "INP1:ATT"});
  CHECK(ask("INP1:ATT 10;ATT?") == "1.000000000E+00");
  CHECK(ask("SYST:ERR?") == "0,\"No error\"");
}

TEST_CASE("misbehaviours: every kind has its own name", "[sim]") {
  std::set<std::string_view> names;
  for (const auto kind : all_misbehaviours()) names.insert(name_of(kind));
  CHECK(names.size() == all_misbehaviours().size());
}
