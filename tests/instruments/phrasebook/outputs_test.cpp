// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/outputs.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "core/base/error.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_link.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

bench::OutputEntry numbered(int output) {
  bench::OutputEntry entry;
  entry.number = output;
  return entry;
}

struct Fixture {
  explicit Fixture(std::string tripped = {})
      : outputs(talk, "OUTPut<n>:STATe", std::move(tripped), {numbered(1), numbered(2)}) {}

  test::Simulated sim;
  test::Script script;
  phrasebook::Conversation talk{
      *sim.timeline,
      std::make_unique<transport::Session>(*sim.timeline, std::make_unique<test::ScriptedLink>(*sim.timeline, script)),
      {"*IDN", "*CLS", "*OPC", "SYSTem:ERRor", "", ""}};
  phrasebook::Outputs outputs;

  // The error's message, or nothing.
  std::string run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      return error.record().message;
    }
    return "";
  }
  std::string prove(int output, bool on) { return run(outputs.prove(output, on, talk.deadline(2s))); }
  template <class Work>
  std::string said(Work work) {
    try {
      work();
    } catch (const base::Error& error) {
      return error.record().message;
    }
    return "";
  }
};

const std::string no_error = ";0,\"No error\"";

}  // namespace

TEST_CASE("outputs: one that the bench file does not name is refused", "[phrasebook]") {
  Fixture f;
  CHECK(f.outputs.entry(2).number == 2);
  CHECK(f.said([&] { f.outputs.entry(3); }) == "the bench file says nothing about output 3");
}

TEST_CASE("outputs: only what was set up may be switched on, until it is forgotten", "[phrasebook]") {
  Fixture f;
  const auto refused = [&](int output) { return !f.said([&] { f.outputs.require_set_up(output); }).empty(); };
  CHECK(refused(1));
  f.outputs.is_set_up(1);
  f.outputs.is_set_up(2);
  CHECK_FALSE(refused(1));
  f.outputs.forget(1);
  CHECK(refused(1));
  CHECK_FALSE(refused(2));
  f.outputs.forget();
  CHECK(refused(2));
}

TEST_CASE("outputs: a switch is proven by reading it back, with the protection where there is one", "[phrasebook]") {
  Fixture plain;
  plain.script.add(":OUTPut1:STATe?;:SYSTem:ERRor?", "1" + no_error);
  CHECK(plain.prove(1, true).empty());
  plain.script.add(":OUTPut2:STATe?;:SYSTem:ERRor?", "1" + no_error);
  CHECK(plain.prove(2, false) == "output 2: asked off, the instrument says on");
  Fixture guarded("OUTPut<n>:TRIPped");
  guarded.script.add(":OUTPut1:STATe?;:OUTPut1:TRIPped?;:SYSTem:ERRor?", "0;1" + no_error);
  CHECK(guarded.prove(1, true) == "the protection of output 1 has switched it off");
  guarded.script.add(":OUTPut1:STATe?;:OUTPut1:TRIPped?;:SYSTem:ERRor?", "0;1" + no_error);
  CHECK(guarded.prove(1, false).empty());
  CHECK(guarded.script.done());
}

TEST_CASE("outputs: making safe switches every one off and proves each", "[phrasebook]") {
  Fixture f;
  f.script.add(":OUTPut1:STATe OFF;:OUTPut2:STATe OFF");
  f.script.add("*CLS");
  f.script.add("*OPC?", "1");
  f.script.add(":OUTPut1:STATe?;:SYSTem:ERRor?", "0" + no_error);
  f.script.add(":OUTPut2:STATe?;:SYSTem:ERRor?", "1" + no_error);
  CHECK(f.run(f.outputs.make_safe(f.talk.deadline(2s))) == "output 2: asked off, the instrument says on");
  CHECK(f.script.surprise.empty());
  CHECK(f.script.done());
}
