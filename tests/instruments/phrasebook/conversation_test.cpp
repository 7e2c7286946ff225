// SPDX-License-Identifier: Apache-2.0
// The error queue behind each group, and what is said when an answer does not come or cannot be read.
#include "instruments/phrasebook/conversation.hpp"

#include <catch2/catch.hpp>

#include <string>
#include <string_view>

#include "tests/support/run_task.hpp"
#include "tests/support/scripted_link.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

struct Fixture {
  test::Simulated sim;
  test::Script script;
  phrasebook::Conversation talk{
      *sim.timeline,
      std::make_unique<transport::Session>(*sim.timeline, std::make_unique<test::ScriptedLink>(*sim.timeline, script)),
      {"*IDN", "*CLS", "*OPC", "SYSTem:ERRor", "*TST", "ABORt"}};

  // Runs and gives the error's whole text, or "".
  std::string run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      code = error.record().code;
      return error.what();
    }
    return "";
  }
  base::ErrorCode code = base::ErrorCode::defect;
};

task<> ask_range(phrasebook::Conversation& talk, double& value) {
  scpi::ProgramBuilder query;
  query.query("VOLTage:RANGe");
  co_await talk.ask(
      std::move(query), [&value](scpi::ResponseReader& answer) { value = answer.number(); }, talk.deadline(2s));
}

task<> greet(phrasebook::Conversation& talk, std::string& name) { name = co_await talk.greet(talk.deadline(2s)); }

task<> self_test(phrasebook::Conversation& talk, std::optional<int>& found) {
  found = co_await talk.self_test(talk.deadline(2s));
}

task<> make_safe(phrasebook::Conversation& talk) { co_await talk.make_safe(talk.deadline(2s)); }

}  // namespace

TEST_CASE("conversation: queries carry the error queue behind them in one message", "[phrasebook]") {
  Fixture f;
  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?", "2.0E+0;0,\"No error\"");
  double value = 0;
  CHECK(f.run(ask_range(f.talk, value)).empty());
  CHECK(value == 2.0);
  CHECK(f.script.done());
}

TEST_CASE("conversation: all that stands in the error queue is read and told", "[phrasebook]") {
  Fixture f;
  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?", "2.0E+0;-222,\"Data out of range\"");
  f.script.add(":SYSTem:ERRor?", "-113,\"Undefined header\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  double value = 0;
  CHECK(f.run(ask_range(f.talk, value)) ==
        "MEMORY0::scripted::INSTR: the instrument reports 2 errors: -222 \"Data out of range\"; -113 \"Undefined "
        "header\"\n"
        "  sent 30 bytes \":VOLTage:RANGe?;:SYSTem:ERRor?\"\n"
        "  try: did somebody use the instrument's own keys meanwhile? is this the right phrasebook for it? look up the "
        "numbers in its handbook");
  CHECK(f.code == base::ErrorCode::instrument_error);
  CHECK(f.script.done());
}

TEST_CASE("conversation: an unreadable answer is told with its bytes, unless the queue knows better", "[phrasebook]") {
  Fixture f;
  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?", "rubbish");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  double value = 0;
  CHECK(f.run(ask_range(f.talk, value)) ==
        "MEMORY0::scripted::INSTR: the answer of 7 bytes cannot be read at byte 1\n"
        "  sent 30 bytes \":VOLTage:RANGe?;:SYSTem:ERRor?\"\n"
        "  received 7 bytes \"rubbish\"\n"
        "  expected: a number, not \"rubbish\"\n"
        "  try: ask the instrument the same by hand and compare with its phrasebook");
  CHECK(f.code == base::ErrorCode::bad_answer);

  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?", "rubbish;0,\"No error\"");
  f.script.add(":SYSTem:ERRor?", "-113,\"Undefined header\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  f.run(ask_range(f.talk, value));
  CHECK(f.code == base::ErrorCode::instrument_error);
  CHECK(f.script.done());
}

TEST_CASE("conversation: an instrument that leaves out what it cannot answer is told by its own error",
          "[phrasebook]") {
  const std::string error = "-230,\"Data corrupt or stale;sweep; 2\"";
  for (const std::string& answer :
       {error, "2.0E+0X;" + error, "#15;\";\"1;" + error, std::string(500, ';') + "1,\"a\"x;" + error}) {
    CAPTURE(answer);
    Fixture f;
    f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?", answer);
    f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
    double value = 0;
    CHECK_THAT(f.run(ask_range(f.talk, value)),
               Catch::StartsWith("MEMORY0::scripted::INSTR: the instrument reports -230 "
                                 "\"Data corrupt or stale;sweep; 2\"\n"));
    CHECK(f.code == base::ErrorCode::instrument_error);
    CHECK(f.script.done());
  }
}

TEST_CASE("conversation: of an instrument that answers nothing, its queue is asked why", "[phrasebook]") {
  Fixture f;
  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?");
  f.script.add(":SYSTem:ERRor?", "-230,\"Data corrupt or stale\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  double value = 0;
  CHECK_THAT(f.run(ask_range(f.talk, value)),
             Catch::StartsWith("MEMORY0::scripted::INSTR: no answer within 2.00 s; then the instrument reports -230 "
                               "\"Data corrupt or stale\"\n"));
  CHECK(f.code == base::ErrorCode::time_out);
  CHECK(f.script.clears == 1);
  CHECK(f.script.done());
}

TEST_CASE("conversation: what is asked alone and cannot be read is explained by the queue, too", "[phrasebook]") {
  Fixture f;
  scpi::ProgramBuilder query;
  query.query("WAVeform:PREamble");
  const auto ask = [](phrasebook::Conversation& talk, const scpi::ProgramBuilder& what) {
    return talk.ask_alone(
        what, [&talk](std::string_view) { talk.refuse(base::ErrorCode::bad_answer, "not readable", "look"); },
        talk.deadline(2s));
  };
  f.script.add(":WAVeform:PREamble?", "rubbish");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  CHECK_THAT(f.run(ask(f.talk, query)), Catch::StartsWith("MEMORY0::scripted::INSTR: not readable\n"));
  CHECK(f.code == base::ErrorCode::bad_answer);
  f.script.add(":WAVeform:PREamble?", "rubbish");
  f.script.add(":SYSTem:ERRor?", "-230,\"Data corrupt or stale\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  CHECK_THAT(f.run(ask(f.talk, query)), Catch::Contains("the instrument reports -230 \"Data corrupt or stale\"\n"));
  CHECK(f.script.done());
}

TEST_CASE("conversation: the first trouble is told when the queue gives no answer after it", "[phrasebook]") {
  Fixture f;
  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?", "rubbish");
  f.script.add(":SYSTem:ERRor?");
  double value = 0;
  f.run(ask_range(f.talk, value));
  CHECK(f.code == base::ErrorCode::bad_answer);
  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?", "2.0E+0;-222,\"Data out of range\"");
  f.script.add(":SYSTem:ERRor?", "rubbish");
  CHECK_THAT(f.run(ask_range(f.talk, value)),
             Catch::StartsWith("MEMORY0::scripted::INSTR: the instrument reports -222 \"Data out of range\"\n"));
  CHECK(f.code == base::ErrorCode::instrument_error);
  CHECK(f.script.done());
}

TEST_CASE("conversation: a queue without end is left after 64 errors", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?", "Lanternfield,Scope,0,1");
  for (int i = 0; i < 64; ++i) f.script.add(":SYSTem:ERRor?", "-350,\"Queue overflow\"");
  std::string name;
  CHECK_THAT(f.run(greet(f.talk, name)), Catch::Contains("the instrument reports 64 errors"));
  CHECK(f.script.done());
}

TEST_CASE("conversation: greeting clears the status, asks who it is and reads the queue", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?", "Lanternfield,Scope,0,1\r");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  std::string name;
  CHECK(f.run(greet(f.talk, name)).empty());
  CHECK(name == "Lanternfield,Scope,0,1");
  CHECK(f.script.done());
}

TEST_CASE("conversation: an identity of unprintable bytes is refused", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?", "\x01\x02");
  std::string name;
  CHECK(f.run(greet(f.talk, name)) ==
        "MEMORY0::scripted::INSTR: the answer to who it is cannot be read: 1 to 1024 characters without control "
        "characters "
        "are expected\n"
        "  sent 10 bytes \"*CLS\\n*IDN?\"\n"
        "  received 2 bytes \"\\x01\\x02\"\n"
        "  try: is there an instrument of this kind behind the resource name, and no other program talking to it?");
}

TEST_CASE("conversation: an identity may have the signs of Latin-1, and is handed on in UTF-8", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?", "Lanternfield,5 \xb5V,0,1");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  std::string name;
  CHECK(f.run(greet(f.talk, name)).empty());
  CHECK(name == "Lanternfield,5 \u00b5V,0,1");
  Fixture long_one;
  long_one.script.add("*CLS");
  long_one.script.add("*IDN?", std::string(1025, 'A'));
  CHECK_THAT(long_one.run(greet(long_one.talk, name)), Catch::Contains("1 to 1024 characters"));
}

TEST_CASE("conversation: what an error queue says cannot move the cursor", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?", "Lanternfield,Scope,0,1");
  f.script.add(":SYSTem:ERRor?", "-310,\"\x1b[2Jall \xb5 well\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  std::string name;
  const std::string said = f.run(greet(f.talk, name));
  CHECK_THAT(said, Catch::Contains("the instrument reports -310 \"\\x1b[2Jall \u00b5 well\""));
}

TEST_CASE("conversation: one deadline holds for the whole call and a silent instrument is told", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?");
  std::string name;
  CHECK(f.run(greet(f.talk, name)) ==
        "MEMORY0::scripted::INSTR: no answer within 2.00 s\n"
        "  sent 5 bytes \"*IDN?\"\n"
        "  after 2.00 s\n"
        "  try: is the instrument still on and idle, and locked by nobody else? The connection is cleared before the "
        "next message");
  CHECK(f.code == base::ErrorCode::time_out);
  CHECK(f.sim.timeline->now() == 2s);
}

TEST_CASE("conversation: making safe works after a time-out, on a cleared link", "[phrasebook]") {
  Fixture f;
  f.script.add(":VOLTage:RANGe?;:SYSTem:ERRor?");
  double value = 0;
  f.script.add(":SYSTem:ERRor?");
  f.run(ask_range(f.talk, value));
  CHECK(f.code == base::ErrorCode::time_out);
  CHECK(f.sim.timeline->now() <= 2750ms);  // half a second for the queue, and a quarter for why it is silent
  f.script.add(":ABORt;*CLS");
  f.script.add("*OPC?", "1");
  CHECK(f.run(make_safe(f.talk)).empty());
  CHECK(f.script.clears == 2);
  CHECK(f.script.done());
}

// IEEE 488.2, 10.38: 0 is no error, anything else a number of the instrument's, from -32767 to 32767.
TEST_CASE("conversation: a self-test gives its number, refuses what is none, and needs a phrase", "[phrasebook]") {
  Fixture f;
  f.script.add("*TST?;:SYSTem:ERRor?", "-12;0,\"No error\"");
  std::optional<int> found;
  CHECK(f.run(self_test(f.talk, found)).empty());
  CHECK(found == -12);
  f.script.add("*TST?;:SYSTem:ERRor?", "40000;0,\"No error\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  CHECK_FALSE(f.run(self_test(f.talk, found)).empty());
  CHECK(f.code == base::ErrorCode::bad_answer);

  test::Script nothing;
  phrasebook::Conversation mute{*f.sim.timeline,
                                std::make_unique<transport::Session>(
                                    *f.sim.timeline, std::make_unique<test::ScriptedLink>(*f.sim.timeline, nothing)),
                                {"*IDN", "*CLS", "*OPC", "SYSTem:ERRor", "", "ABORt"}};
  CHECK(f.run(self_test(mute, found)).empty());
  CHECK_FALSE(found);
}
