// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/interview.hpp"

#include <catch2/catch.hpp>

#include <tuple>

#include "core/base/error.hpp"
#include "core/yaml/load.hpp"
#include "instruments/transport/memory/client.hpp"
#include "sim/instrument/multimeter.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

struct Room {
  test::Simulated sim;
  phrasebook::Interview found;

  void meet(std::shared_ptr<transport::Device> device, std::vector<phrasebook::detail::StandardText> ways = {}) {
    if (ways.empty()) ways = phrasebook::detail::standard_texts();
    const auto body = [&]() -> task<> {
      transport::Session session(*sim.timeline, co_await transport::memory::connect(device, "MEMORY0::unknown::INSTR"));
      found = co_await phrasebook::interview(session, ways, 500ms);
    };
    sim.run(body());
  }
};

const phrasebook::Asked& line_of(const std::vector<phrasebook::Asked>& lines, std::string_view key) {
  for (const auto& line : lines)
    if (line.key == key) return line;
  throw std::runtime_error("no such line: " + std::string(key));
}

std::string text_with(std::string_view name, std::string_view coupling) {
  return "phrasebook: " + std::string(name) +
         "\nabout: a\nkind: oscilloscope\nidentity: \"*IDN\"\ncoupling: " + std::string(coupling) +
         "\npoints: SENSe:SWEep:POINts\nstart: INITiate:IMMediate\ndc: DC\n";
}

}  // namespace

TEST_CASE("interview: each simulated instrument is known by the phrasebook that was written for it", "[phrasebook]") {
  Room room;
  room.meet(std::make_shared<sim::SimulatedOscilloscope>(*room.sim.timeline, sim::ScopeClass{}, base::Random(1)));
  CHECK(room.found.identity == "Eyelevel,Simulated oscilloscope,0,1.0");
  CHECK(room.found.version == "1999.0");
  CHECK(room.found.tried.front().phrasebook == "standard-digitiser");
  CHECK(room.found.tried.front().fitting() == room.found.tried.front().asked());
  CHECK(room.found.tried.front().asked() >= 12);
  Room other;
  other.meet(std::make_shared<sim::SimulatedMultimeter>(*other.sim.timeline, sim::MeterClass{}, base::Random(1)));
  CHECK(other.found.tried.front().phrasebook == "standard-multimeter");
}

TEST_CASE("interview: nothing is left behind: no error, no changed setting, no acquisition", "[phrasebook]") {
  Room room;
  auto scope = std::make_shared<sim::SimulatedOscilloscope>(*room.sim.timeline, sim::ScopeClass{}, base::Random(1));
  scope->raise_error(-350, "older");
  std::string before, after;
  const std::string settings = "INP1:COUP?;ATT?;:VOLT1:RANG:PTP?;OFFS?;:SWE:POIN?;TINT?;:TRIG:SOUR?;:FORM?;:FORM:BORD?";
  const auto ask = [&](std::string& into) -> task<> {
    transport::Session session(*room.sim.timeline, co_await transport::memory::connect(scope, "MEMORY0::m::INSTR"));
    into = co_await session.query(settings, 5s);
  };
  room.sim.run(ask(before));
  room.meet(scope);
  CHECK(room.found.found_in_queue.size() == 1);
  room.sim.run(ask(after));
  CHECK(before == after);
  std::string state;
  const auto look = [&]() -> task<> {
    transport::Session session(*room.sim.timeline, co_await transport::memory::connect(scope, "MEMORY0::m::INSTR"));
    state = co_await session.query("SYST:ERR?;:STAT:OPER:COND?", 5s);
  };
  room.sim.run(look());
  CHECK(state == "0,\"No error\";0");
}

TEST_CASE("interview: only queries are sent, whatever the phrasebooks hold", "[phrasebook]") {
  Room room;
  auto device =
      std::make_shared<test::ScriptedDevice>(*room.sim.timeline, [](std::string_view message, transport::Reply& reply) {
        if (message == "*IDN?") reply.bytes = "who,knows,0,0";
        return base::Duration(0);
      });
  room.meet(device);
  CHECK_FALSE(device->messages.empty());
  for (const auto& message : device->messages) {
    CAPTURE(message);
    CHECK(message.ends_with('?'));
    for (const char* effect : {"READ", "FETC", "MEAS", "TST", "INIT", "CAL"})
      CHECK(message.find(effect) == std::string::npos);
  }
}

TEST_CASE("interview: an instrument that is silent on what it does not know is cleared and left in peace",
          "[phrasebook]") {
  Room room;
  auto device =
      std::make_shared<test::ScriptedDevice>(*room.sim.timeline, [](std::string_view message, transport::Reply& reply) {
        if (message == "*IDN?") reply.bytes = "who,knows,0,0";
        return base::Duration(0);
      });
  room.meet(device);
  CHECK_FALSE(room.found.has_error_queue);
  for (const auto& way : room.found.tried) {
    CAPTURE(way.phrasebook);
    CHECK(way.fitting() == 0);
    CHECK(way.asked() <= 4);  // four silences in a row end a way
  }
  CHECK(base::to_seconds(room.sim.timeline->now()) < 60);
}

TEST_CASE("interview: what does not answer *IDN? is not asked anything else", "[phrasebook]") {
  Room room;
  auto device = std::make_shared<test::ScriptedDevice>(
      *room.sim.timeline, [](std::string_view, transport::Reply&) { return base::Duration(0); });
  std::string message;
  try {
    room.meet(device);
  } catch (const base::Error& error) {
    message = error.record().message;
  }
  CHECK_THAT(message, Catch::Contains("no answer to *IDN?"));
  CHECK(device->messages == std::vector<std::string>{"*IDN?"});
}

TEST_CASE("interview: a line that only another way of the same kind knows is taken from there", "[phrasebook]") {
  Room room;
  auto device =
      std::make_shared<test::ScriptedDevice>(*room.sim.timeline, [](std::string_view message, transport::Reply& reply) {
        if (message == "*IDN?") reply.bytes = "who,knows,0,0";
        if (message == "CHANnel1:COUPling?") reply.bytes = "DC";
        if (message == "SENSe:SWEep:POINts?") reply.bytes = "1000";
        if (message == "SYSTem:ERRor?") reply.bytes = "0,\"No error\"";
        return base::Duration(0);
      });
  const std::string one = text_with("one", "INPut<n>:COUPling"), other = text_with("other", "CHANnel<n>:COUPling");
  room.meet(device, {{"one.yaml", one}, {"other.yaml", other}});
  CHECK(room.found.tried.front().phrasebook == "other");
  const auto learnt = room.found.learnt();
  CHECK(line_of(learnt, "coupling").phrase == "CHANnel<n>:COUPling");
  CHECK(line_of(learnt, "coupling").answer == "DC");
  CHECK(line_of(learnt, "start").query.empty());
}

TEST_CASE("interview: the phrasebook that is written can be read again, and says how each line was learnt",
          "[phrasebook]") {
  Room room;
  room.meet(std::make_shared<sim::SimulatedOscilloscope>(*room.sim.timeline, sim::ScopeClass{}, base::Random(1)));
  const std::string text = phrasebook::written(room.found, "my-scope");
  const auto read = phrasebook::read_phrasebook(yaml::load_text("my-scope.yaml", text));
  CHECK(read.mistakes.fine());
  CHECK(read.phrasebook.name == "my-scope");
  CHECK(read.phrasebook.kind == "oscilloscope");
  CHECK_THAT(text, Catch::Contains("# asked INPut1:COUPling?, answered DC"));
  CHECK_THAT(text,
             Catch::Contains("dc: DC                                        # it answered so to INPut1:COUPling?"));
  CHECK_THAT(text, Catch::Contains("XTIMe:VOLTage<n>           # it answered so to SENSe:FUNCtion:ON?"));
  CHECK_THAT(text, Catch::Contains("INITiate:IMMediate                     # not asked; unproven"));
}

namespace {

// An oscilloscope that speaks so, by choice with a record.
std::shared_ptr<sim::SimulatedOscilloscope> speaking(Room& room, sim::Tongue tongue, bool has_record) {
  auto scope = std::make_shared<sim::SimulatedOscilloscope>(*room.sim.timeline, sim::ScopeClass{}, base::Random(1),
                                                            "Eyelevel,Simulated oscilloscope,0,1.0", tongue);
  scope->connect(1, test::constant_source(0.5), {.factor = 1});
  const auto take = [&]() -> task<> {
    transport::Session session(*room.sim.timeline, co_await transport::memory::connect(scope, "MEMORY0::m::INSTR"));
    co_await session.query("SWE:POIN 1000;:INIT;*OPC?", 5s);
  };
  if (has_record) room.sim.run(take());
  return scope;
}

std::string left_behind(Room& room, const std::shared_ptr<sim::SimulatedOscilloscope>& scope) {
  std::string state;
  const auto look = [&]() -> task<> {
    transport::Session session(*room.sim.timeline, co_await transport::memory::connect(scope, "MEMORY0::m::INSTR"));
    state = co_await session.query("SYST:ERR?;:STAT:OPER:COND?", 5s);
  };
  room.sim.run(look());
  return state;
}

}  // namespace

TEST_CASE("interview: the two ways of sending codes are told apart by their waveform header", "[phrasebook]") {
  for (const auto& [tongue, name, form] :
       {std::tuple{sim::Tongue::numbered_header, "block-with-numbered-header", "numbered"},
        std::tuple{sim::Tongue::keyed_header, "block-with-keyed-header", "keyed"}}) {
    CAPTURE(name);
    Room room;
    const auto scope = speaking(room, tongue, true);
    room.meet(scope);
    CHECK(room.found.tried.front().phrasebook == name);
    CHECK(room.found.tried.front().fitting() == room.found.tried.front().asked());
    CHECK(left_behind(room, scope) == "0,\"No error\";0");
    const std::string text = phrasebook::written(room.found, "learnt");
    const auto read = phrasebook::read_phrasebook(yaml::load_text("learnt.yaml", text));
    CHECK(read.mistakes.fine());
    const auto& phrases = std::get<phrasebook::OscilloscopePhrases>(read.phrasebook.phrases);
    CHECK((phrases.layout.header == phrasebook::WaveformLayout::Header::numbered) == (std::string(form) == "numbered"));
    CHECK_THAT(text, Catch::Matches("(.|\n)*header fields: " + std::string(form) +
                                    " +# its answer to RECord:PREamble\\? can be read so\n(.|\n)*"));
    CHECK_THAT(text,
               Catch::Matches("(.|\n)*waveform header: RECord:PREamble +# asked RECord:PREamble\\?, answered (.|\n)*"));
    CHECK_THAT(text, Catch::Matches("(.|\n)*codes are: [a-z]+ +# not asked; unproven\n(.|\n)*"));
  }
}

TEST_CASE("interview: an oscilloscope without a record is not made to take one, and is told how to give its header",
          "[phrasebook]") {
  Room room;
  const auto scope = speaking(room, sim::Tongue::keyed_header, false);
  room.meet(scope);
  const auto learnt = room.found.learnt();
  CHECK_THAT(line_of(learnt, "waveform header").trouble,
             Catch::StartsWith("error -230") && Catch::Contains("let it run once by its own key"));
  CHECK(left_behind(room, scope) == "0,\"No error\";0");
}

TEST_CASE("interview: an identity with control characters and quotes still makes a readable phrasebook",
          "[phrasebook]") {
  Room room;
  auto device =
      std::make_shared<test::ScriptedDevice>(*room.sim.timeline, [](std::string_view message, transport::Reply& reply) {
        if (message == "*IDN?") reply.bytes = "evil\r\t\x1b[2J: #\"name\",x,0,0";
        if (message == "SYSTem:ERRor?") reply.bytes = "0,\"No error\"";
        if (message == "INPut1:COUPling?") reply.bytes = "DC";
        if (message == "SENSe:SWEep:POINts?") reply.bytes = "a\ttab";
        return base::Duration(0);
      });
  const std::string one = text_with("one", "INPut<n>:COUPling");
  room.meet(device, {{"one.yaml", one}});
  const std::string text = phrasebook::written(room.found, "evil");
  CHECK(text.find('\t') == std::string::npos);
  CHECK(text.find('\x1b') == std::string::npos);
  const auto document = yaml::load_text("evil.yaml", text);
  CHECK(document.root.find("kind")->text == "oscilloscope");
}
