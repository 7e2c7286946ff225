// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/connect.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string one_note = test::around("  - note: hello\n");

std::string with_meter_as_help(std::string text) {
  const std::string needed = "  meter: { kind: multimeter }\n";
  return text.replace(text.find(needed), needed.size(), "helps if there:\n" + needed);
}

}  // namespace

TEST_CASE("connect: what is used is recorded with identity and calibration date", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(one_note);
  REQUIRE(result.instruments.size() == 2);
  CHECK(result.instruments[0].role == "scope");
  CHECK(result.instruments[0].identity == "Fake,Scope,SN 12,1.0");
  CHECK(result.instruments[0].calibration_due == "2030-06-30");
  CHECK(bench.journal.of<event::Connected>().size() == 2);
}

TEST_CASE("connect: a needed instrument that is not on the bench ends the run before anything is set", "[sequence]") {
  test::FakeBench bench;
  bench.file.instruments.erase(bench.file.instruments.begin());
  const auto result = bench.run(one_note);
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::not_found);
  CHECK(result.error->message == "the bench 'test bench' has no scope");
  CHECK(result.error->where == "test.yaml:4:3: scope");
  CHECK(bench.journal.of<event::Set>().empty());
}

TEST_CASE("connect: a memory or rate below the need is refused with both figures", "[sequence]") {
  test::FakeBench bench;
  std::string text = one_note;
  text.replace(text.find("20 MSa/s"), 8, "20 MSa/s, memory: at least 600 kSa");
  SECTION("memory") {
    bench.prepare_scope = [](test::FakeScope& scope) { scope.points_max = 20'000; };
    const auto result = bench.run(text);
    REQUIRE(result.error);
    CHECK(result.error->message ==
          "the sequence needs a memory of at least 600 kSa, this oscilloscope has 20 kSa; nothing was set");
  }
  SECTION("rate") {
    bench.prepare_scope = [](test::FakeScope& scope) { scope.rate_hz_max = 10e6; };
    const auto result = bench.run(text);
    REQUIRE(result.error);
    CHECK(result.error->message ==
          "the sequence needs a sample rate of at least 20 MSa/s, this oscilloscope has 10 MSa/s; nothing was set");
  }
  CHECK(bench.journal.of<event::Set>().empty());
  CHECK(bench.scope_is_safe);
}

TEST_CASE("connect: an instrument that only helps may fail to answer; its steps are left out", "[sequence]") {
  test::FakeBench bench;
  bench.has_meter = false;
  const auto result =
      bench.run(with_meter_as_help(test::around("  - measure: d.c. level of dc\n    within: 5 s\n    name it: mean\n  "
                                                "- judge: mean\n    must meet: level\n  - note: the end\n")));
  CHECK_FALSE(result.error);
  CHECK(result.ended == "finished");
  CHECK(result.judgement == std::nullopt);
  std::vector<std::string> notes;
  for (const auto& n : bench.journal.of<event::Noted>()) notes.push_back(n.text);
  const std::string absent = "nobody listens at TCPIP0::192.0.2.11::5025::SOCKET";
  CHECK(notes == std::vector<std::string>{"goes on without meter: " + absent, "left out: " + absent,
                                          "left out: " + absent, "left out: there is no mean: " + absent, "the end"});
}

TEST_CASE("connect: an instrument that is never reached ends the run after half a minute", "[sequence]") {
  test::FakeBench bench;
  bench.calls.each = std::chrono::hours(1);
  const auto result = bench.run(one_note);
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::no_connection);
  CHECK(result.error->message == "TCPIP0::192.0.2.10::5025::SOCKET was not reached within 30 s");
  CHECK(result.closed_s == Approx(30));
}
