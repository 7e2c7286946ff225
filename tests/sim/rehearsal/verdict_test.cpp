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
  const std::vector<sim::Demand> demand{{sim::Demand::Ending::any, {}, {"self-test"}}};
  sequence::RunResult result = finished(1.20, 0.01, Judgement::pass);
  CHECK(sim::what_is_wrong(result, {}, demand) == "");  // nobody looked
  result.proofs = {{{}, "self-test", "scope", Judgement::pass, ""}, {{}, "self-test", "meter", std::nullopt, ""}};
  CHECK_THAT(sim::what_is_wrong(result, {}, demand), Catch::Contains("self-test did not show the trouble"));
  result.proofs[0].judgement = Judgement::fail;
  CHECK(sim::what_is_wrong(result, {}, demand) == "");
  const std::vector<sim::Demand> level{{sim::Demand::Ending::any, {}, {"level"}}};
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

namespace {

sim::TroubleCall trouble(sim::Demand demand, std::vector<std::string> words) {
  return {{}, std::move(demand), "what it is", std::move(words)};
}

}  // namespace

TEST_CASE("verdict: a pass whose truth lies more than 3 standard uncertainties outside is a wrong pass, trouble or not",
          "[sim]") {
  auto result = finished(1.30, 0.02, Judgement::pass);
  result.readings.front().interval.standard_uncertainty = 0.01;
  CHECK(sim::caught(result, {{"level", 1.36}}, {}, {}) == sim::Caught::wrong_pass);
  CHECK(sim::caught(result, {{"level", 1.34}}, {}, {}) == std::nullopt);
  CHECK(sim::caught(result, {{"level", 1.36}}, {trouble({}, {"low"})}, {"low"}) == sim::Caught::wrong_pass);
}

TEST_CASE("verdict: what only the bench proof shows is left to it, unless the sequence looked and saw nothing",
          "[sim]") {
  auto result = finished(1.30, 0.02, Judgement::pass);
  result.readings.front().interval.standard_uncertainty = 0.01;
  const std::vector<sim::TroubleCall> shown{
      trouble({sim::Demand::Ending::any, {}, {"top flatness"}}, {"top flatness"})};
  CHECK(sim::caught(result, {{"level", 1.36}}, shown, {}) == sim::Caught::left_to_proof);
  auto flat = result.readings.front();
  flat.name = "flatness";
  flat.measure = "top flatness";
  result.readings.push_back(flat);
  CHECK(sim::caught(result, {{"level", 1.36}}, shown, {}) == sim::Caught::wrong_pass);
}

TEST_CASE("verdict: what did not pass is named by its words, named wrongly without them", "[sim]") {
  const sim::Demand stops{sim::Demand::Ending::stopped, {base::ErrorCode::time_out}};
  const std::vector<sim::TroubleCall> silent{trouble(stops, {"no answer"})};
  CHECK(sim::caught(stopped(base::ErrorCode::time_out), {}, silent, {"no answer within 2 s"}) == sim::Caught::named);
  CHECK(sim::caught(stopped(base::ErrorCode::time_out), {}, silent, {"no eye"}) == sim::Caught::misnamed);
  const std::vector<sim::TroubleCall> never{trouble({sim::Demand::Ending::not_pass, {}}, {"probe"})};
  CHECK(sim::caught(finished(1.2, 0.01, Judgement::pass), {}, never, {}) == sim::Caught::wrong_pass);
}

TEST_CASE("verdict: a unit that ends as it would without its trouble shows that it was harmless", "[sim]") {
  const std::vector<sim::TroubleCall> hum{trouble({}, {})};
  CHECK(sim::caught(finished(1.2, 0.01, Judgement::pass), {{"level", 1.2}}, hum, {}) == sim::Caught::harmless);
  CHECK(sim::caught(finished(1.5, 0.01, Judgement::fail), {{"level", 1.5}}, hum, {}) == sim::Caught::harmless);
}

TEST_CASE("verdict: no eye may be measured where there is none", "[sim]") {
  const std::vector<sim::Demand> demand{{sim::Demand::Ending::no_eye, {base::ErrorCode::wait_ran_out}}};
  auto seen = finished(1.2, 0.01, Judgement::fail);
  seen.readings.front().measure = "eye level";
  CHECK(sim::what_is_wrong(seen, {}, demand) != "");
  CHECK(sim::what_is_wrong(finished(1.2, 0.01, Judgement::pass), {}, demand) == "");
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::wait_ran_out), {}, demand) == "");
  CHECK(sim::what_is_wrong(stopped(base::ErrorCode::time_out), {}, demand) != "");
}
