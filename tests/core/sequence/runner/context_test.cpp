// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/context.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using metrology::Judgement;

namespace {

struct Around {
  test::FakeBench bench;
  sequence::Sequence sequence = test::checked(test::around("  - note: hello\n"));
  sequence::RunContext context{
      {*bench.sim.timeline, bench.person, bench.journal, {&bench.listener}, "run-1", 1, sequence, bench.file, nullptr}};

  metrology::Reading reading(const std::string& name, double value, double expanded) {
    metrology::Reading r;
    r.name = name;
    r.value = value;
    r.interval.expanded_uncertainty = expanded;
    return r;
  }
};

}  // namespace

TEST_CASE("run context: events wait until they are announced, then are committed and told in order", "[sequence]") {
  Around a;
  a.context.tell(event::Noted{{}, "one"});
  a.context.tell(event::Noted{{}, "two"});
  CHECK(a.bench.journal.events.empty());
  a.bench.sim.run(a.context.announce());
  REQUIRE(a.bench.listener.told_events.size() == 2);
  CHECK(a.bench.listener.told_events[1].number == 2);
  CHECK(a.bench.journal.commits == 1);
  a.bench.sim.run(a.context.announce());
  CHECK(a.bench.journal.commits == 1);  // nothing new, no transaction
}

TEST_CASE("run context: after the journal failed nothing more is recorded or told", "[sequence]") {
  Around a;
  a.bench.journal.fail_at = 1;
  a.context.tell(event::Noted{{}, "one"});
  CHECK_THROWS_AS(a.bench.sim.run(a.context.announce()), base::Error);
  CHECK_FALSE(a.context.is_recording());
  a.context.tell(event::Noted{{}, "two"});
  a.bench.sim.run(a.context.announce());
  CHECK(a.bench.listener.told_events.empty());
}

TEST_CASE("run context: a run is judged by its worst reading, and a rejected series keeps it from passing",
          "[sequence]") {
  Around a;
  const sequence::NamedLimit limit{"level", "1.20 V ± 10 %", {1.08, 1.32}, quantity::voltage, 0, 0};
  CHECK(a.context.judgement() == std::nullopt);
  auto good = a.reading("a", 1.2, 0.02);
  CHECK(a.context.judge({}, good, limit) == Judgement::pass);
  CHECK(a.context.judgement() == Judgement::pass);
  SECTION("fail is the worst") {
    auto near = a.reading("b", 1.31, 0.02), bad = a.reading("c", 1.5, 0.02);
    CHECK(a.context.judge({}, near, limit) == Judgement::undecided);
    CHECK(a.context.judgement() == Judgement::undecided);
    CHECK(a.context.judge({}, bad, limit) == Judgement::fail);
    CHECK(a.context.judgement() == Judgement::fail);
  }
  SECTION("a reading that cannot pass is undecided, but still fails when it is wrong") {
    a.context.cannot_pass("d");
    a.context.cannot_pass("e");
    auto d = a.reading("d", 1.2, 0.02), e = a.reading("e", 1.5, 0.02);
    CHECK(a.context.judge({}, d, limit) == Judgement::undecided);
    CHECK(a.context.judge({}, e, limit) == Judgement::fail);
  }
  SECTION("a run that cannot pass") {
    a.context.run_cannot_pass();
    CHECK(a.context.judgement() == Judgement::undecided);
  }
}

TEST_CASE("run context: readings are listed in the order in which they were made", "[sequence]") {
  Around a;
  a.context.keep("z", a.reading("z", 1, 0));
  a.context.keep("captures", sequence::CaptureSet{});
  a.context.keep("b", a.reading("b", 2, 0));
  const auto all = a.context.readings();
  REQUIRE(all.size() == 2);
  CHECK(all[0].name == "z");
  CHECK(all[1].name == "b");
}

TEST_CASE("run context: a call of an instrument may take what is left of the step, but not longer than its own limit",
          "[sequence]") {
  Around a;
  sequence::Step step;
  CHECK(a.context.call_limit(10s) == 10s);
  a.context.begin_step(step, a.bench.sim.timeline->now() + 4s);
  CHECK(a.context.call_limit(10s) == 4s);
  a.bench.sim.run(a.bench.sim.timeline->sleep(3s));
  CHECK(a.context.call_limit(10s) == 1s);
  CHECK(a.context.call_limit(500ms) == 500ms);
  a.bench.sim.run(a.bench.sim.timeline->sleep(3s));
  CHECK(a.context.call_limit(10s) > 0s);
}

TEST_CASE("run context: a result that an earlier step lost is left out, one that was never to come is a defect",
          "[sequence]") {
  Around a;
  a.context.lose("level", "\"measure\" broke off");
  CHECK_THROWS_AS(a.context.reading("level"), sequence::LeftOut);
  CHECK_THROWS_AS(a.context.reading("other"), base::Error);
  a.context.keep("level", a.reading("level", 1, 0));
  CHECK(a.context.reading("level").value == 1);
}
