// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/gauge_report.hpp"

#include <catch2/catch.hpp>

#include <sstream>

#include "core/base/error.hpp"
#include "tests/core/report/workshop/played.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;
using metrology::study::GaugeVerdict;

namespace {

// The study of the AIAG manual (Measurement Systems Analysis, 10 parts, 3 appraisers, 3 trials) as if it had been run.
std::vector<record::ReadingRow> study_rows(std::optional<metrology::Limit> limit) {
  std::istringstream lines(test::data_file("measurement/msa_gauge_10x3x3.csv"));
  std::string line;
  std::getline(lines, line);
  std::vector<record::ReadingRow> rows;
  while (std::getline(lines, line)) {
    record::ReadingRow row;
    const auto first = line.find(','), second = line.find(',', first + 1);
    row.operator_name = line.substr(0, first);
    row.serial = line.substr(first + 1, second - first - 1);
    row.value = test::point_number(line.substr(line.rfind(',') + 1));
    row.name = "level_pressed";
    row.unit = "V";
    row.limit = limit;
    row.begun = test::played_hour(rows.size());
    row.run = "run " + std::to_string(rows.size());
    rows.push_back(row);
  }
  std::reverse(rows.begin(), rows.end());
  return rows;
}

GaugeParts parts() {
  GaugeParts all{{}, {"A", "B", "C"}, 3, By::operators};
  for (int unit = 1; unit <= 10; ++unit) all.units.push_back(std::to_string(unit));
  return all;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string all;
  for (const std::string& line : lines) all += line + "\n";
  return all;
}

}  // namespace

// Published and recomputed: 27.86 % of the study by analysis of variance, 4 classes (AIAG, Measurement Systems
// Analysis, 4th edition, III B; `msa_anova_10x3x3` of tests/data/measurement).
TEST_CASE("gauge report: the manual's study comes out of rows of a store", "[report]") {
  const auto report = report_gauge(study_rows(std::nullopt), parts());
  CHECK(report.study.gauge.study_percent == Approx(27.86).margin(0.005));
  CHECK(report.study.verdict == GaugeVerdict::conditional);
  const std::string told = joined(gauge_sentences(report, By::operators));
  CHECK_THAT(told,
             Catch::StartsWith("The measurement is good enough with care: its scatter takes 28 % of the spread of "
                               "these units"));
  CHECK_THAT(told, Catch::Contains("tells 4 classes of these units apart"));
  CHECK_THAT(joined(gauge_table(report, By::operators)),
             Catch::Contains("10 units x 3 operators x 3 repeats by analysis of variance, interaction pooled"));
  CHECK(to_json(report, By::operators).at("verdict") == "conditional");
}

TEST_CASE("gauge report: limits with two sides are what the measurement is held against", "[report]") {
  const auto wide = report_gauge(study_rows(metrology::Limit{-20.0, 20.0}), parts());
  REQUIRE(wide.limit);
  CHECK(wide.study.verdict == GaugeVerdict::good);
  CHECK_THAT(joined(gauge_sentences(wide, By::operators)),
             Catch::Contains("good enough: its scatter takes") && Catch::Contains("-20 V to 20 V"));
  const auto narrow = report_gauge(study_rows(metrology::Limit{-1.0, 1.0}), parts());
  CHECK(narrow.study.verdict == GaugeVerdict::not_usable);
  CHECK_FALSE(report_gauge(study_rows(metrology::Limit{1.0, std::nullopt}), parts()).limit);
}

TEST_CASE("gauge report: each reading that is missing is named", "[report]") {
  auto rows = study_rows(std::nullopt);
  std::erase_if(rows, [](const record::ReadingRow& row) { return row.serial == "4" && row.operator_name == "B"; });
  rows.erase(rows.begin());
  CHECK_THROWS_WITH(report_gauge(rows, parts()),
                    Catch::Contains("level_pressed is not complete: 4 by B 0 of 3; 10 by C 2 of 3"));
}

TEST_CASE("gauge report: what was measured beyond the repeats, by others or twice in a run is left out", "[report]") {
  auto rows = study_rows(std::nullopt);
  auto more = rows.front();
  more.run = "one more";
  more.begun = test::played_hour(1000);
  more.value = 99;
  rows.insert(rows.begin(), more);
  auto another = more;
  another.operator_name = "D";
  rows.insert(rows.begin(), another);
  auto again = rows.back();  // in the same run
  again.value = -99;
  rows.insert(rows.end() - 1, again);
  const auto report = report_gauge(rows, parts());
  CHECK(report.left_over == 1);
  CHECK(report.study.gauge.study_percent == Approx(27.86).margin(0.005));
  CHECK_THAT(joined(gauge_sentences(report, By::operators)), Catch::Contains("1 reading is beyond the repeats"));
}
