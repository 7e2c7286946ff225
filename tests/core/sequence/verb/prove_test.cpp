// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

// Around steps on the oscilloscope alone, before anything is set up.
std::string proof(const std::string& steps) {
  return "sequence: test\nabout: a test\nproves: bench\nneeds:\n  scope: { kind: oscilloscope }\n"
         "helps if there:\n  meter: { kind: multimeter }\nsteps:\n" +
         steps + "closing:\n  - make safe: every instrument\n    within: 10 s\n";
}
std::string item(const std::string& what) { return proof("  - prove: " + what + "\n    within: 1 min\n"); }

}  // namespace

TEST_CASE("prove: an identity passes when it begins as the bench file says, and fails when it does not", "[sequence]") {
  test::FakeBench bench;
  bench.file.instruments[0].identity = "Fake,Scope";
  auto result = bench.run(item("identity of scope"));
  REQUIRE(result.proofs.size() == 1);
  CHECK(result.proofs[0].judgement == Judgement::pass);
  CHECK(result.judgement == Judgement::pass);
  test::FakeBench other;
  other.file.instruments[0].identity = "Fake,Better scope";
  result = other.run(item("identity of scope"));
  CHECK(result.judgement == Judgement::fail);
  CHECK(result.proofs[0].found == "Fake,Scope,SN 12,1.0; by the bench file it is Fake,Better scope");
}

TEST_CASE("prove: an identity that nobody stated is told and not judged", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(item("identity of scope"));
  CHECK_FALSE(result.proofs.at(0).judgement);
  CHECK_FALSE(result.judgement);
}

TEST_CASE("prove: a calibration holds to its day, is overdue after it, and undecided where no day is stated",
          "[sequence]") {
  // Simulated time begins on 2030-01-07.
  const auto judged = [](const std::string& due) {
    test::FakeBench bench;
    bench.file.instruments[0].calibration_due = due;
    return bench.run(item("calibration of scope")).proofs.at(0);
  };
  CHECK(judged("2030-01-07").judgement == Judgement::pass);
  CHECK(judged("2030-02-06").found == "due 2030-02-06, in 30 days");
  CHECK(judged("2030-01-06").judgement == Judgement::fail);
  CHECK(judged("2030-01-06").found == "overdue since 2030-01-06, 1 days ago");
  CHECK(judged("").judgement == Judgement::undecided);
}

TEST_CASE("prove: a self-test passes with 0 and fails with any other number", "[sequence]") {
  test::FakeBench bench;
  CHECK(bench.run(item("self-test of scope")).judgement == Judgement::pass);
  test::FakeBench broken;
  broken.prepare_scope = [](test::FakeScope& scope) { scope.tests_itself = 7; };
  const auto result = broken.run(item("self-test of scope"));
  CHECK(result.judgement == Judgement::fail);
  CHECK_THAT(result.proofs.at(0).found, Catch::Contains("reports 7"));
}

TEST_CASE("prove: every instrument means those that are there", "[sequence]") {
  test::FakeBench bench;
  CHECK(bench.run(item("self-test of every instrument")).proofs.size() == 2);
  test::FakeBench without;
  without.has_meter = false;
  const auto result = without.run(item("self-test of every instrument"));
  CHECK(result.proofs.size() == 1);
  CHECK(result.ended == "finished");
}

TEST_CASE("prove: settings are changed and set back; one that does not stick fails and is named", "[sequence]") {
  const std::string steps = "  - prove: settings of rf\n    within: 10 s\n";
  test::FakeBench bench;
  auto result = bench.run(test::around(steps));
  CHECK(result.judgement == Judgement::pass);
  CHECK(std::count(bench.calls.names.begin(), bench.calls.names.end(), "set up scope") == 3);
  test::FakeBench stuck;
  stuck.prepare_scope = [](test::FakeScope& scope) { scope.refuses_coupling = bench::Coupling::dc; };
  result = stuck.run(test::around(steps));
  CHECK(result.judgement == Judgement::fail);
  CHECK(result.proofs.at(0).found == "coupling: asked a.c., the instrument says d.c.");
}

TEST_CASE("prove: what breaks off in a proof of the bench keeps it from passing, whatever `otherwise` does",
          "[sequence]") {
  const std::string text = proof(
      "  - prove: calibration of scope\n    within: 10 s\n"
      "  - prove: self-test of scope\n    within: 1 s\n    otherwise:\n      - note: slow\n");
  test::FakeBench bench;
  CHECK(bench.run(text).judgement == Judgement::pass);
  test::FakeBench slow;
  slow.calls.fail_at = 6;  // open, greet, ability of the scope; open, greet of the meter; the self-test
  const auto result = slow.run(text);
  CHECK(result.ended == "finished");
  CHECK(result.judgement == Judgement::undecided);
}

TEST_CASE("prove: what it cannot prove, and a self-test after a set up, are refused with what would be right",
          "[sequence]") {
  CHECK_THAT(test::mistakes_of(item("callibration of scope")), Catch::Contains("did you mean 'calibration'?"));
  CHECK_THAT(test::mistakes_of(item("self-test")), Catch::Contains("does not say what is to be proven of what"));
  CHECK_THAT(test::mistakes_of(item("identity of scop")), Catch::Contains("did you mean 'scope'?"));
  CHECK_THAT(test::mistakes_of(test::around("  - prove: self-test of scope\n    within: 1 min\n")),
             Catch::Contains("put the self-test before `set up: rf`"));
}
