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

TEST_CASE("misbehaviours: each is read as its usage writes it, with a value and the query where it strikes", "[sim]") {
  for (const auto kind : all_misbehaviours()) {
    CAPTURE(name_of(kind));
    const bool needs_value = kind == Misbehaviour::setting_not_taken || kind == Misbehaviour::knob_turned;
    CHECK(parse_misbehaviour(std::string(name_of(kind)) + (needs_value ? "=INP1:ATT" : "")).kind == kind);
    CHECK_THAT(usage_of(kind), Catch::StartsWith(std::string(name_of(kind))));
    CHECK_FALSE(about(kind).empty());
  }
  CHECK(parse_misbehaviour("late=0.5@7").delay_s == 0.5);
  CHECK(parse_misbehaviour("late=0.5@7").from_query == 7);
  CHECK(parse_misbehaviour("trickle").delay_s == 0.2);
  CHECK(parse_misbehaviour("close-in-answer=17").at_byte == std::size_t{17});
  CHECK(parse_misbehaviour("error-in-queue=-310").error == -310);
  CHECK(parse_misbehaviour("setting-not-taken=SENS:VOLT1:RANG:PTP@2").header == "SENS:VOLT1:RANG:PTP");
}

TEST_CASE("misbehaviours: what cannot be read is refused with what would be right", "[sim]") {
  const auto said = [](const std::string& text) -> std::string {
    try {
      parse_misbehaviour(text);
    } catch (const base::Error& error) {
      return error.record().message;
    }
    return "nothing";
  };
  CHECK(said("lately") == "misbehaviour \"lately\": there is none of this name");
  CHECK(said("late=nan") == "misbehaviour \"late=nan\": \"nan\" is no number from 0.001 to 3600");
  CHECK(said("late=") == "misbehaviour \"late=\": \"\" is no number from 0.001 to 3600");
  CHECK(said("silent=1") == "misbehaviour \"silent=1\": it takes no value");
  CHECK(said("silent@") == "misbehaviour \"silent@\": \"\" is no number from 1 to 1000000000");
  CHECK_THROWS_AS(Faulty({.kind = Misbehaviour::setting_not_taken, .header = "NO:SUCH"}), base::Error);
}

TEST_CASE(
    "misbehaviours: a long answer, one cut at a byte, signs in the identity, a connection closed behind an answer",
    "[sim]") {
  CHECK(Faulty({.kind = Misbehaviour::long_answer, .megabytes = 0.002})("*TST?") == std::string(2000, 'A'));
  CHECK(Faulty({.kind = Misbehaviour::stops_within_answer, .at_byte = 3})("*IDN?") == "time_out");
  CHECK(Faulty({.kind = Misbehaviour::close_in_answer, .at_byte = 0})("*IDN?") == "connection_lost");
  Faulty signs({.kind = Misbehaviour::signs_in_identity});
  CHECK_THAT(signs("*IDN?"), Catch::Contains("\xb5") && Catch::Contains("\x1b[2J"));
  CHECK(signs("*TST?") == "0");
  Faulty closing({.kind = Misbehaviour::close_after_answer, .from_query = 2});
  CHECK(closing("*TST?") == "0");
  CHECK(closing("*TST?") == "0");
  CHECK(closing("*TST?") == "connection_lost");
}

TEST_CASE("misbehaviours: service that is never asked for, a poll that says nothing, a lock that someone else holds",
          "[sim]") {
  const auto asked = [](Faulty& ask) {
    bool requested = false;
    const auto wait = [](transport::Session& session, bool& into) -> task<> {
      into = co_await session.wait_for_service(1s);
    };
    ask.sim.run(wait(*ask.session, requested));
    return requested;
  };
  const auto polled = [](Faulty& ask) {
    std::uint8_t status = 0;
    const auto poll = [](transport::Session& session, std::uint8_t& into) -> task<> {
      into = co_await session.status_byte(1s);
    };
    ask.sim.run(poll(*ask.session, status));
    return int{status};
  };
  const std::string request = "*CLS;*ESE 1;*SRE 32;*OPC";  // OPC into bit 5 (IEEE 488.2, 11.2.1)
  Faulty right({.kind = Misbehaviour::late, .from_query = 100});
  right(request);
  CHECK(asked(right));
  CHECK(polled(right) == 0x60);
  Faulty mute({.kind = Misbehaviour::no_service_requests});
  mute(request);
  CHECK_FALSE(asked(mute));
  Faulty lying({.kind = Misbehaviour::wrong_status_byte});
  lying(request);
  CHECK(polled(lying) == 0);
  Faulty locked({.kind = Misbehaviour::locked});
  CHECK_FALSE(locked.device->access.may_use(locked.device->access.new_holder()));
  locked.device->behave();
  CHECK(locked.device->access.may_use(locked.device->access.new_holder()));
  CHECK_FALSE(Faulty({.kind = Misbehaviour::deaf}).device->greets());
}

TEST_CASE("misbehaviour: a knob is turned once, after the answer it was told, and nobody is told", "[sim]") {
  Faulty knob({.kind = Misbehaviour::knob_turned, .from_query = 2, .queries = 1, .header = "INP1:COUP AC"});
  CHECK(knob("INP1:COUP?") == "DC");
  CHECK(knob("INP1:COUP?") == "DC");
  CHECK(knob("INP1:COUP?") == "AC");
  knob("INP1:COUP DC");
  CHECK(knob("INP1:COUP?") == "DC");
  CHECK(knob("SYST:ERR?") == "0,\"No error\"");
  CHECK(parse_misbehaviour("knob-turned=INP1:COUP AC").header == "INP1:COUP AC");
  CHECK_THROWS_AS(parse_misbehaviour("knob-turned"), base::Error);
}
