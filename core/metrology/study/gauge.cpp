// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/study/gauge.hpp"

#include <fmt/format.h>

#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "core/base/error.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::study {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

// Readings by unit and operator, with the means of all and of each.
struct Table {
  std::set<std::string> units, operators;
  std::map<std::pair<std::string, std::string>, std::vector<double>> cells;
  std::map<std::string, std::vector<double>> by_unit, by_operator;
  std::vector<double> all;
  std::size_t trials = 0;
};

Table table_of(std::span<const GaugeReading> readings) {
  Table table;
  for (const GaugeReading& reading : readings) {
    if (!std::isfinite(reading.value)) {
      refuse(fmt::format("unit {} by {} reads {}, expected a number", reading.unit, reading.who, reading.value));
    }
    table.units.insert(reading.unit);
    table.operators.insert(reading.who);
    table.cells[{reading.unit, reading.who}].push_back(reading.value);
    table.by_unit[reading.unit].push_back(reading.value);
    table.by_operator[reading.who].push_back(reading.value);
    table.all.push_back(reading.value);
  }
  for (const auto& [place, values] : table.cells) table.trials = std::max(table.trials, values.size());
  if (table.units.size() < 2 || table.operators.size() < 2 || table.trials < 2) {
    refuse(fmt::format("a gauge study of {} units by {} operators, {} times each: two of each are the least",
                       table.units.size(), table.operators.size(), table.trials));
  }
  for (const std::string& unit : table.units) {
    for (const std::string& who : table.operators) {
      const std::size_t found = table.cells[{unit, who}].size();
      if (found == table.trials) continue;
      refuse(fmt::format("unit {} was measured {} times by {}, others {} times: expected as often", unit, found, who,
                         table.trials));
    }
  }
  return table;
}

VarianceRow row(double degrees, double squares) { return {degrees, squares, squares / degrees}; }

double squares_of_means(const std::map<std::string, std::vector<double>>& groups, double mean) {
  double sum = 0;
  for (const auto& [name, values] : groups) {
    const Statistics s = statistics(values);
    sum += static_cast<double>(s.count) * (s.mean - mean) * (s.mean - mean);
  }
  return sum;
}

void fill_rows(const Table& table, GaugeStudy& study) {
  const double p = static_cast<double>(study.units);
  const double o = static_cast<double>(study.operators);
  const double r = static_cast<double>(study.trials);
  const double mean = statistics(table.all).mean;
  double interaction = 0;
  double repeatability = 0;
  for (const auto& [place, values] : table.cells) {
    const Statistics cell = statistics(values);
    const double off = cell.mean - statistics(table.by_unit.at(place.first)).mean -
                       statistics(table.by_operator.at(place.second)).mean + mean;
    interaction += r * off * off;
    repeatability += (r - 1) * cell.sd * cell.sd;
  }
  study.unit_row = row(p - 1, squares_of_means(table.by_unit, mean));
  study.operator_row = row(o - 1, squares_of_means(table.by_operator, mean));
  study.interaction_row = row((p - 1) * (o - 1), interaction);
  study.repeatability_row = row(p * o * (r - 1), repeatability);
}

void test_interaction(const GaugeOptions& options, GaugeStudy& study) {
  const double above = study.interaction_row.mean_square;
  const double below = study.repeatability_row.mean_square;
  study.interaction_f = below > 0 ? above / below : above > 0 ? std::numeric_limits<double>::infinity() : 0;
  const boost::math::fisher_f chance(study.interaction_row.degrees, study.repeatability_row.degrees);
  study.interaction_p =
      std::isinf(study.interaction_f) ? 0 : boost::math::cdf(boost::math::complement(chance, study.interaction_f));
  study.is_pooled = study.interaction_p > options.pool_above;
}

// A variance cannot be negative: its estimate can, where the effect is smaller than the noise.
double not_negative(double variance, std::string_view of, GaugeStudy& study) {
  if (variance >= 0) return variance;
  study.notes.push_back(fmt::format("the variance of {} came out at {:.4g} and was set to 0", of, variance));
  return 0;
}

void fill_variances(GaugeStudy& study) {
  const double p = static_cast<double>(study.units);
  const double o = static_cast<double>(study.operators);
  const double r = static_cast<double>(study.trials);
  const VarianceRow& error = study.repeatability_row;
  const VarianceRow& both = study.interaction_row;
  const double pooled = (error.squares + both.squares) / (error.degrees + both.degrees);
  const double against = study.is_pooled ? pooled : both.mean_square;
  study.repeatability.variance = study.is_pooled ? pooled : error.mean_square;
  if (!study.is_pooled) {
    study.interaction.variance = not_negative((both.mean_square - error.mean_square) / r, "the interaction", study);
  }
  study.who.variance = not_negative((study.operator_row.mean_square - against) / (p * r), "operators", study);
  study.unit.variance = not_negative((study.unit_row.mean_square - against) / (o * r), "units", study);
  study.reproducibility.variance = study.who.variance + study.interaction.variance;
  study.gauge.variance = study.repeatability.variance + study.reproducibility.variance;
  study.total.variance = study.gauge.variance + study.unit.variance;
}

void fill_shares(const GaugeOptions& options, GaugeStudy& study) {
  const double total = study.total.variance;
  for (Component* part : {&study.repeatability, &study.interaction, &study.who, &study.reproducibility, &study.gauge,
                          &study.unit, &study.total}) {
    part->sd = std::sqrt(part->variance);
    part->contribution_percent = 100 * part->variance / total;
    part->study_percent = 100 * std::sqrt(part->variance / total);
    if (options.limit_width) part->tolerance_percent = 100 * options.spread * part->sd / *options.limit_width;
  }
  constexpr double per_category = 1.41;  // as customary, for the square root of 2
  study.categories =
      study.gauge.sd > 0 ? per_category * study.unit.sd / study.gauge.sd : std::numeric_limits<double>::infinity();
  const double percent = study.gauge.tolerance_percent.value_or(study.gauge.study_percent);
  study.verdict = percent < 10    ? GaugeVerdict::good
                  : percent <= 30 ? GaugeVerdict::conditional
                                  : GaugeVerdict::not_usable;
}

}  // namespace

GaugeStudy gauge_study(std::span<const GaugeReading> readings, const GaugeOptions& options) {
  if (options.limit_width && !(*options.limit_width > 0)) {
    refuse(fmt::format("the limit is {} wide, expected above 0", *options.limit_width));
  }
  const Table table = table_of(readings);
  GaugeStudy study;
  study.units = table.units.size();
  study.operators = table.operators.size();
  study.trials = table.trials;
  fill_rows(table, study);
  test_interaction(options, study);
  fill_variances(study);
  if (study.total.variance == 0) refuse("all readings of the gauge study are equal: nothing can be told from them");
  fill_shares(options, study);
  return study;
}

}  // namespace eyelevel::metrology::study
