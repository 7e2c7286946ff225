// SPDX-License-Identifier: Apache-2.0
// Gauge study by analysis of variance, crossed: several units, each measured several times by several operators (or on
// several benches). Says how much of the scatter is measuring, and whether that is good enough for the limits (AIAG
// Measurement Systems Analysis, 4th edition, III B). The way by ranges gives other figures from the same readings: name
// the method beside them. Components are variances in the square of the readings' unit, standard deviations in the
// unit.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace eyelevel::metrology::study {

struct GaugeReading {
  std::string unit;  // its serial
  std::string who;   // operator, or bench
  double value = 0;
};

struct GaugeOptions {
  double pool_above = 0.25;  // an interaction whose p lies above is pooled with repeatability (common practice;
                             // some take 0.05)
  std::optional<double> limit_width = std::nullopt;  // upper minus lower limit, above 0; without it no share of it
  double spread = 6;                                 // standard deviations set against the limit width (older: 5.15)
};

struct VarianceRow {
  double degrees = 0, squares = 0, mean_square = 0;
};

// Shares in per cent: of the variance; of the total standard deviation; of the limit width.
struct Component {
  double variance = 0, sd = 0;
  double contribution_percent = 0;
  double study_percent = 0;
  std::optional<double> tolerance_percent;
};

enum class GaugeVerdict { good, conditional, not_usable };  // below 10 %, to 30 %, above, of study or tolerance

struct GaugeStudy {
  std::size_t units = 0, operators = 0, trials = 0;
  VarianceRow unit_row, operator_row, interaction_row, repeatability_row;
  double interaction_f = 0, interaction_p = 1;
  bool is_pooled = false;
  Component repeatability, interaction, who, gauge, unit, total;  // who: operators; gauge: all that is measuring
  Component reproducibility;                                      // operators and interaction together
  double categories = 0;  // 1.41 unit sd/gauge sd, not truncated; infinite where the gauge has no scatter
  GaugeVerdict verdict = GaugeVerdict::not_usable;  // by the tolerance where there is one, else by the study
  std::vector<std::string> notes;  // components that came out negative and were set to 0, with their value
};

// Two units, operators and trials or more; each operator measures each unit equally often. Error(bad_input) names the
// unit and operator where readings are missing. Order of the readings does not matter.
GaugeStudy gauge_study(std::span<const GaugeReading> readings, const GaugeOptions& options = {});

}  // namespace eyelevel::metrology::study
