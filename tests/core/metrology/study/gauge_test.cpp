// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/study/gauge.hpp"

#include <catch2/catch.hpp>

#include <limits>
#include <sstream>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::study::gauge_study;
using metrology::study::GaugeReading;
using metrology::study::GaugeVerdict;
using test::example;
using test::number;
using test::numbers;

namespace {

// operator,part,trial,value
std::vector<GaugeReading> readings_of(const std::string& name) {
  std::istringstream lines(test::data_file("measurement/" + name));
  std::string line;
  std::getline(lines, line);
  std::vector<GaugeReading> readings;
  while (std::getline(lines, line)) {
    const auto first = line.find(',');
    const auto second = line.find(',', first + 1);
    readings.push_back({line.substr(first + 1, second - first - 1), line.substr(0, first),
                        test::point_number(line.substr(line.rfind(',') + 1))});
  }
  return readings;
}

void check_pooled(const std::string& id, const std::string& file) {
  const auto computed = example(id).at("computed");
  const auto got = gauge_study(readings_of(file));
  CHECK(got.unit_row.squares == Approx(number(computed.at("ss").at("part"))).epsilon(1e-8));
  CHECK(got.operator_row.squares == Approx(number(computed.at("ss").at("operator"))).epsilon(1e-8));
  CHECK(got.interaction_row.squares == Approx(number(computed.at("ss").at("interaction"))).epsilon(1e-8));
  CHECK(got.repeatability_row.squares == Approx(number(computed.at("ss").at("repeatability"))).epsilon(1e-8));
  CHECK(got.interaction_f == Approx(number(computed.at("interaction").at("F"))).epsilon(1e-8));
  CHECK(got.interaction_p == Approx(number(computed.at("interaction").at("p"))).epsilon(1e-8));
  REQUIRE(got.is_pooled);
  const auto pooled = computed.at("pooled");
  CHECK(got.repeatability.variance == Approx(number(pooled.at("var_repeatability"))).epsilon(1e-8));
  CHECK(got.who.variance == Approx(number(pooled.at("var_operator"))).epsilon(1e-8));
  CHECK(got.unit.variance == Approx(number(pooled.at("var_part"))).epsilon(1e-8));
  CHECK(got.interaction.variance == 0);
  CHECK(got.repeatability.sd == Approx(number(pooled.at("EV"))).epsilon(1e-8));
  CHECK(got.reproducibility.sd == Approx(number(pooled.at("AV"))).epsilon(1e-8));
  CHECK(got.gauge.sd == Approx(number(pooled.at("GRR"))).epsilon(1e-8));
  CHECK(got.unit.sd == Approx(number(pooled.at("PV"))).epsilon(1e-8));
  CHECK(got.total.sd == Approx(number(pooled.at("TV"))).epsilon(1e-8));
  const auto contribution = numbers(pooled.at("pct_contribution"));
  CHECK(got.repeatability.contribution_percent == Approx(contribution[0]).epsilon(1e-8));
  CHECK(got.reproducibility.contribution_percent == Approx(contribution[1]).epsilon(1e-8));
  CHECK(got.gauge.contribution_percent == Approx(contribution[2]).epsilon(1e-8));
  CHECK(got.unit.contribution_percent == Approx(contribution[3]).epsilon(1e-8));
  const auto study = numbers(pooled.at("pct_study_var"));
  CHECK(got.repeatability.study_percent == Approx(study[0]).epsilon(1e-8));
  CHECK(got.reproducibility.study_percent == Approx(study[1]).epsilon(1e-8));
  CHECK(got.gauge.study_percent == Approx(study[2]).epsilon(1e-8));
  CHECK(got.unit.study_percent == Approx(study[3]).epsilon(1e-8));
  CHECK(got.categories == Approx(number(pooled.at("ndc_1_41"))).epsilon(1e-8));
  CHECK(got.notes.empty());

  const auto kept = gauge_study(readings_of(file), {.pool_above = 1});
  const auto with = computed.at("with_interaction");
  CHECK_FALSE(kept.is_pooled);
  CHECK(kept.repeatability.variance == Approx(number(with.at("var_repeatability"))).epsilon(1e-8));
  CHECK(kept.interaction.variance == 0);
  CHECK(kept.who.variance == Approx(number(with.at("var_operator"))).epsilon(1e-8));
  CHECK(kept.unit.variance == Approx(number(with.at("var_part"))).epsilon(1e-8));
  REQUIRE(kept.notes.size() == 1);
  const auto negative = kept.notes[0].find("came out at ");
  CHECK(test::point_number(kept.notes[0].substr(negative + 12)) ==
        Approx(number(with.at("var_interaction_before_clamp"))).epsilon(1e-3));  // four digits are told
}

// `units` x `operators` x 3 readings of known standard deviations.
std::vector<GaugeReading> simulated(base::Random& random, int units, int operators, double interaction_sd) {
  std::vector<double> of_operator;
  for (int o = 0; o < operators; ++o) of_operator.push_back(random.normal(0, 0.4));
  std::vector<GaugeReading> readings;
  for (int u = 0; u < units; ++u) {
    const double of_unit = random.normal(10, 1);
    for (int o = 0; o < operators; ++o) {
      const double of_both = random.normal(0, interaction_sd);
      for (int k = 0; k < 3; ++k) {
        readings.push_back({std::to_string(u), std::to_string(o),
                            of_unit + of_operator[static_cast<std::size_t>(o)] + of_both + random.normal(0, 0.2)});
      }
    }
  }
  return readings;
}

}  // namespace

TEST_CASE("gauge study: ten units by three operators, three times each", "[metrology]") {
  // AIAG Measurement Systems Analysis, 4th ed. (2010), III B (examples.json "msa_anova_10x3x3"): 27.9 % of the study,
  // interaction pooled (p 0.974), -0.0087 set to 0 when it is kept; computed digits to 1e-8.
  check_pooled("msa_anova_10x3x3", "msa_gauge_10x3x3.csv");
  const auto got = gauge_study(readings_of("msa_gauge_10x3x3.csv"));
  CHECK(std::floor(got.categories) == 4);
  CHECK(got.verdict == GaugeVerdict::conditional);
}

TEST_CASE("gauge study: five units by three operators, three times each", "[metrology]") {
  // A published example that applies the same (examples.json "msa_anova_5x3x3"): 33.07 %, 4 categories.
  check_pooled("msa_anova_5x3x3", "msa_gauge_5x3x3.csv");
  CHECK(gauge_study(readings_of("msa_gauge_5x3x3.csv")).verdict == GaugeVerdict::not_usable);
}

TEST_CASE("gauge study: against limits, the verdict is that of the tolerance", "[metrology]") {
  const auto readings = readings_of("msa_gauge_10x3x3.csv");
  const auto wide = gauge_study(readings, {.limit_width = 20});
  // 6 x 0.30237 of 20: 9.07 %.
  CHECK(wide.gauge.tolerance_percent.value() == Approx(9.0711).margin(1e-3));
  CHECK(wide.verdict == GaugeVerdict::good);
  const auto older = gauge_study(readings, {.limit_width = 5, .spread = 5.15});
  CHECK(older.gauge.tolerance_percent.value() == Approx(100 * 5.15 * older.gauge.sd / 5));
  CHECK(older.verdict == GaugeVerdict::not_usable);
}

TEST_CASE("gauge study: a true interaction is kept, and the components come out on average", "[metrology]") {
  // 300 studies of 10 units by 6 operators: unit sd 1, operators 0.4, interaction 0.3, repeatability 0.2. Means of the
  // variances; four standard errors: sqrt(2/9) of a unit's variance, sqrt(2/5) of an operator's, over sqrt(300).
  base::Random random(13, "gauge");
  constexpr int studies = 300;
  double unit = 0;
  double who = 0;
  double interaction = 0;
  double repeatability = 0;
  int pooled = 0;
  for (int i = 0; i < studies; ++i) {
    const auto got = gauge_study(simulated(random, 10, 6, 0.3));
    unit += got.unit.variance / studies;
    who += got.who.variance / studies;
    interaction += got.interaction.variance / studies;
    repeatability += got.repeatability.variance / studies;
    pooled += got.is_pooled;
  }
  CHECK(pooled == 0);
  CHECK(unit == Approx(1).epsilon(4 * 0.5 / std::sqrt(300.0)));
  CHECK(who == Approx(0.16).epsilon(4 * 0.7 / std::sqrt(300.0)));
  CHECK(interaction == Approx(0.09).epsilon(0.06));
  CHECK(repeatability == Approx(0.04).epsilon(0.03));
}

TEST_CASE("gauge study: the order of the readings does not matter", "[metrology]") {
  auto readings = readings_of("msa_gauge_10x3x3.csv");
  const double before = gauge_study(readings).gauge.sd;
  std::reverse(readings.begin(), readings.end());
  CHECK(gauge_study(readings).gauge.sd == Approx(before).epsilon(1e-12));
}

TEST_CASE("gauge study: a reading that is missing is named", "[metrology]") {
  auto readings = readings_of("msa_gauge_5x3x3.csv");
  readings.pop_back();
  CHECK_THROWS_WITH(gauge_study(readings), Catch::Contains("unit 5 was measured 2 times by C, others 3 times"));
}

TEST_CASE("gauge study: one operator, one trial, equal readings and no width are refused", "[metrology]") {
  const std::vector<GaugeReading> one{{"LF2-00001", "A", 1}, {"LF2-00001", "A", 2}, {"LF2-00002", "A", 1}};
  CHECK_THROWS_WITH(gauge_study(one), Catch::Contains("2 units by 1 operators"));
  std::vector<GaugeReading> equal;
  for (const char* unit : {"LF2-00001", "LF2-00002"}) {
    for (const char* who : {"A", "B"}) equal.insert(equal.end(), 2, {unit, who, 1.2});
  }
  CHECK_THROWS_WITH(gauge_study(equal), Catch::Contains("are equal"));
  CHECK_THROWS_WITH(gauge_study(equal, {.limit_width = 0}), Catch::Contains("0 wide"));
  equal[0].value = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH(gauge_study(equal), Catch::Contains("unit LF2-00001 by A reads nan"));
}
