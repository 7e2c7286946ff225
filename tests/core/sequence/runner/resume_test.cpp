// SPDX-License-Identifier: Apache-2.0
// A run that was broken off goes on in another one.
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

const std::string measured = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: a\n    must meet: level\n";
const std::string asked = "  - prompt: Clean?\n    answer: yes or no\n    within: 1 min\n    name it: clean\n";
const std::string resumed = "  - prompt: go on\n    within: 1 min\n    resume here: yes\n";
const std::string after =
    "  - if: clean is yes\n    then:\n      - note: it is clean\n  - work out: a + 1 V\n    name it: b\n";

std::string sequence_text() { return test::around(measured + asked + resumed + after, "  level: 2 V to 3 V\n"); }

event::Reached reached(test::FakeBench& bench) {
  const auto all = bench.journal.of<event::Reached>();
  REQUIRE(all.size() == 1);
  return all[0];
}

// The first run loses its operator at the step where it may be resumed.
event::Reached broken_off(double level_v) {
  test::FakeBench bench;
  bench.meter_v = [=](double) { return level_v; };
  bench.person.says = "yes";
  bench.person.does = [&](const std::string& text) {
    if (text == "Clean?") bench.person.is_there = false;
  };
  const auto result = bench.run(sequence_text());
  CHECK(result.ended == "stopped");
  return reached(bench);
}

}  // namespace

TEST_CASE("resume: readings, answers and judgements of the broken off run are there again", "[sequence]") {
  const event::Reached from = broken_off(2.5);
  CHECK(from.place.number == 3);
  test::FakeBench bench;
  bench.meter_v = [](double) { return 99.0; };  // never asked
  const auto sequence = test::checked(sequence_text());
  auto setting = bench.setting();
  setting.goes_on_from = "2030-01-07-1";
  setting.reached = from;
  sequence::RunResult result;
  bench.sim.run([](test::FakeBench& b, const sequence::Sequence& s, sequence::RunSetting how,
                   sequence::RunResult& out) -> task<> {
    out = co_await sequence::run(s, how, b.journal, {&b.listener});
  }(bench, sequence, setting, result));
  CHECK(result.ended == "finished");
  CHECK(result.judgement == Judgement::pass);
  CHECK(bench.person.asked == std::vector<std::string>{"go on"});
  REQUIRE(result.readings.size() == 2);
  CHECK(result.readings[0].value == Approx(2.5).epsilon(1e-3));
  CHECK(result.readings[1].value == Approx(3.5).epsilon(1e-3));
  CHECK(bench.journal.of<event::Noted>().back().text == "it is clean");
  CHECK(bench.journal.of<event::Begun>().at(0).goes_on_from == "2030-01-07-1");
}

TEST_CASE("resume: what failed before stays failed", "[sequence]") {
  const event::Reached from = broken_off(1.0);
  CHECK(from.judgements == std::vector{Judgement::fail});
}

TEST_CASE("resume: captures of earlier steps cannot be used behind it", "[sequence]") {
  const std::string text = test::mistakes_of(
      test::around(test::capture_step + resumed + "  - measure: eye level of pressed\n    must meet: level\n"));
  CHECK_THAT(text, Catch::Contains("'pressed' is gone when the run is resumed in line"));
}

TEST_CASE("resume: it stands at a step of the sequence itself", "[sequence]") {
  CHECK_THAT(test::mistakes_of(test::around("  - in this order:\n      - note: x\n        resume here: yes\n")),
             Catch::Contains("a run can only be resumed with a step that stands in `steps` itself"));
}

TEST_CASE("resume: nothing that is on before it may be needed behind it", "[sequence]") {
  CHECK_THAT(test::mistakes_of(
                 test::around_outputs("  - switch on: rail\n    within: 5 s\n  - note: x\n    resume here: yes\n")),
             Catch::Contains("'rail' is on here, and would be off when the run is resumed"));
}
