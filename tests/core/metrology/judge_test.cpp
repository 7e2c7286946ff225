// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/judge.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/metrology/type_b.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::judge;
using metrology::Judgement;
using metrology::Limit;
using test::example;
using test::number;
using test::numbers;

namespace {

Judgement named(const boost::json::value& name) {
  const std::string text = name.as_string().c_str();
  REQUIRE((text == "pass" || text == "fail" || text == "undecided"));
  return text == "pass" ? Judgement::pass : text == "fail" ? Judgement::fail : Judgement::undecided;
}

}  // namespace

TEST_CASE("judge: nine readings with two guard bands", "[metrology]") {
  // examples.json "guard_band_decision": rule of JCGM 106:2012 clause 8 and ILAC-G8:09/2019 4.2.3.
  const auto guard = example("guard_band_decision");
  const auto limits = numbers(guard.at("inputs").at("limits_v"));
  const Limit limit{limits[0], limits[1]};
  const auto values = numbers(guard.at("inputs").at("y_v"));
  const double u = number(guard.at("inputs").at("u_v"));
  const auto computed = guard.at("computed");
  const auto conform = numbers(computed.at("p_conform"));
  for (std::size_t i = 0; i < values.size(); ++i) {
    CAPTURE(values[i]);
    CHECK(judge(values[i], number(guard.at("inputs").at("g_v").at("k_1_645")), limit) ==
          named(computed.at("decision_1_645").at(i)));
    CHECK(judge(values[i], number(guard.at("inputs").at("g_v").at("k_2")), limit) ==
          named(computed.at("decision_k2").at(i)));
    CHECK(metrology::probability_of_conformity(values[i], u, limit) == Approx(conform[i]).margin(1e-9));
  }
}

TEST_CASE("judge: five divisions read by eye against 4.5 divisions within 10 % are undecided", "[metrology]") {
  // Common practice, no source: a setting judged right shows about 4.5 divisions, 5 were judged too high, and each is
  // a reading to half a division, u 0.20 division. 4.5 +- 10 % is 4.05 to 4.95 divisions.
  const auto eye = metrology::height_by_eye("screen", 1);
  const auto interval = metrology::combine({eye});
  CHECK(interval.standard_uncertainty == Approx(0.20).margin(0.005));
  const Limit limit{4.5 * 0.9, 4.5 * 1.1};
  CHECK(judge(5, interval.expanded_uncertainty, limit) == Judgement::undecided);
  CHECK(judge(5.5, interval.expanded_uncertainty, limit) == Judgement::fail);
  CHECK(judge(4.5, interval.expanded_uncertainty, limit) == Judgement::pass);
  CHECK(judge(3.5, interval.expanded_uncertainty, limit) == Judgement::fail);
}

TEST_CASE("judge: an interval that touches a limit from inside passes, from outside is undecided", "[metrology]") {
  CHECK(judge(1.25, 0.25, {1.0, 1.5}) == Judgement::pass);
  CHECK(judge(0.75, 0.25, {1.0, 1.5}) == Judgement::undecided);
  CHECK(judge(1.75, 0.25, {1.0, 1.5}) == Judgement::undecided);
  CHECK(judge(1.25, 0, {1.25, 1.25}) == Judgement::pass);
}

TEST_CASE("judge: a limit with one side leaves the other open", "[metrology]") {
  CHECK(judge(1e6, 0.1, {1.0, std::nullopt}) == Judgement::pass);
  CHECK(judge(1.05, 0.1, {1.0, std::nullopt}) == Judgement::undecided);
  CHECK(judge(0.5, 0.1, {1.0, std::nullopt}) == Judgement::fail);
  CHECK(judge(-1e6, 0.1, {std::nullopt, 1.0}) == Judgement::pass);
  CHECK(judge(1.2, 0.1, {std::nullopt, 1.0}) == Judgement::fail);
}

TEST_CASE("judge: what cannot be judged is refused", "[metrology]") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH(judge(nan, 0.1, {1.0, 2.0}), Catch::Contains("value to judge is nan"));
  CHECK_THROWS_WITH(judge(1, nan, {1.0, 2.0}), Catch::Contains("expanded uncertainty is nan"));
  CHECK_THROWS_AS(judge(1, -0.1, {1.0, 2.0}), base::Error);
  CHECK_THROWS_AS(judge(1, std::numeric_limits<double>::infinity(), {1.0, 2.0}), base::Error);
  CHECK_THROWS_WITH(judge(1, 0.1, {}), Catch::Contains("no side"));
  CHECK_THROWS_AS(judge(1, 0.1, {nan, std::nullopt}), base::Error);
  CHECK_THROWS_WITH(judge(1, 0.1, {2.0, 1.0}), Catch::Contains("nothing lies inside"));
}

TEST_CASE("can pass: a limit narrower than the interval lets nothing pass", "[metrology]") {
  CHECK(metrology::can_pass(0.25, {1.0, 1.5}));
  CHECK_FALSE(metrology::can_pass(0.26, {1.0, 1.5}));
  CHECK(metrology::can_pass(100, {1.0, std::nullopt}));
}

TEST_CASE("probability of conformity: the examples of the standard", "[metrology]") {
  // JCGM 106:2012 7.3.3 examples 1 and 2, 7.4 (examples.json "jcgm106_specific"): 0.92, 0.99, 0.66; computed to 1e-8.
  const auto specific = example("jcgm106_specific");
  const auto computed = specific.at("computed");
  const auto inputs = specific.at("inputs");
  const auto conform = [&](const char* id) {
    const auto& i = inputs.at(id).as_object();
    Limit limit;
    if (i.contains("lower")) limit.at_least = number(i.at("lower"));
    if (i.contains("upper")) limit.at_most = number(i.at("upper"));
    return metrology::probability_of_conformity(number(i.at("y")), number(i.at("u")), limit);
  };
  for (const char* id : {"ex1", "ex2", "two_sided"}) {
    CHECK(conform(id) == Approx(number(computed.at(id))).epsilon(1e-8));
  }
  CHECK_THROWS_AS(metrology::probability_of_conformity(1, 0, {1.0, 2.0}), base::Error);
}
