// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/verdict.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using metrology::Judgement;

namespace {

sequence::RunResult finished(double value, double half_width, Judgement judgement) {
  metrology::Reading reading;
  reading.name = "level";
  reading.unit = "V";
  reading.value = value;
  reading.interval.expanded_uncertainty = half_width;
  reading.limit = metrology::Limit{1.08, 1.32};
  reading.judgement = judgement;
  sequence::RunResult result;
  result.ended = "finished";
  result.judgement = judgement;
  result.readings = {reading};
  return result;
}

sequence::RunResult stopped(base::ErrorCode code) {
  sequence::RunResult result;
  result.ended = "stopped";
  result.error = base::ErrorRecord{};
  result.error->code = code;
  return result;
}

}  // namespace

TEST_CASE("verdict: a pass whose truth lies well outside the limit is wrong, and so is a fail well inside", "[sim]") {
  CHECK(sim::what_is_wrong(finished(1.30, 0.01, Judgement::pass), {{"level", 1.40}}, {}) != "");
  CHECK(sim::what_is_wrong(finished(1.40, 0.01, Judgement::fail), {{"level", 1.20}}, {}) != "");
  CHECK(sim::what_is_wrong(finished(1.20, 0.01, Judgement::pass), {{"level", 1.21}}, {}) == "");
  CHECK(sim::what_is_wrong(finished(1.40, 0.01, Judgement::fail), {{"level", 1.41}}, {}) == "");
}

TEST_CASE("verdict: a truth nearer to the limit than the stated interval excuses either judgement", "[sim]") {
  CHECK(sim::what_is_wrong(finished(1.30, 0.02, Judgement::pass), {{"level", 1.33}}, {}) == "");
  CHECK(sim::what_is_wrong(finished(1.35, 0.02, Judgement::fail), {{"level", 1.31}}, {}) == "");
}

TEST_CASE("verdict: undecided is never wrong; a healthy unit that is stopped is", "[sim]") {
  CHECK(sim::what_is_wrong(finished(1.31, 0.03, Judgement::undecided), {{"level", 1.50}}, {}) == "");
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::time_out), {}, {}) != "");
}

TEST_CASE("verdict: a trouble that must stop the run is right with its own code only", "[sim]") {
  const std::vector<sim::Demand> demand{{sim::Demand::Ending::stopped, {base::ErrorCode::time_out}}};
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::time_out), {}, demand) == "");
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::bad_answer), {}, demand) != "");
  CHECK(sim::what_is_wrong(finished(1.20, 0.01, Judgement::pass), {}, demand) != "");
}

TEST_CASE("verdict: our own defect is wrong whatever was demanded", "[sim]") {
  const std::vector<sim::Demand> demand{{sim::Demand::Ending::any, {}}};
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::defect), {}, demand) != "");
}

TEST_CASE("verdict: with a trouble that forbids a pass, a pass is wrong", "[sim]") {
  const std::vector<sim::Demand> demand{{sim::Demand::Ending::not_pass, {}}};
  CHECK(sim::what_is_wrong(finished(1.20, 0.01, Judgement::pass), {}, demand) != "");
  CHECK(sim::what_is_wrong(finished(1.50, 0.01, Judgement::fail), {}, demand) == "");
}

TEST_CASE("verdict: what must show a trouble is judged and not passed, wherever a run looked at it", "[sim]") {
  const std::vector<sim::Demand> demand{{sim::Demand::Ending::any, {}, "self-test"}};
  sequence::RunResult result = finished(1.20, 0.01, Judgement::pass);
  CHECK(sim::what_is_wrong(result, {}, demand) == "");  // nobody looked
  result.proofs = {{{}, "self-test", "scope", Judgement::pass, ""}, {{}, "self-test", "meter", std::nullopt, ""}};
  CHECK_THAT(sim::what_is_wrong(result, {}, demand), Catch::Contains("self-test did not show the trouble"));
  result.proofs[0].judgement = Judgement::fail;
  CHECK(sim::what_is_wrong(result, {}, demand) == "");
  const std::vector<sim::Demand> level{{sim::Demand::Ending::any, {}, "level"}};
  CHECK(sim::what_is_wrong(finished(1.20, 0.01, Judgement::pass), {}, level) != "");
  CHECK(sim::what_is_wrong(finished(1.40, 0.01, Judgement::fail), {}, level) == "");
}

TEST_CASE("verdict: a trouble that may also stop the run names the codes, and what is finished is held to the truth",
          "[sim]") {
  const sim::Demand demand{sim::Demand::Ending::by_truth, {base::ErrorCode::wait_ran_out}};
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::wait_ran_out), {}, {demand}) == "");
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::time_out), {}, {demand}) != "");
  CHECK(sim::what_is_wrong(finished(1.30, 0.01, Judgement::pass), {{"level", 1.40}}, {demand}) != "");
}
