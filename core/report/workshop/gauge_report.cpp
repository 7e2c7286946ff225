// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/gauge_report.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <boost/json/array.hpp>
#include <boost/json/string.hpp>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "core/base/error.hpp"
#include "core/quantity/counted.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/words.hpp"

namespace eyelevel::report::workshop {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;
using metrology::study::Component;
using metrology::study::GaugeVerdict;
using quantity::counted;

namespace {

using Place = std::pair<std::string, std::string>;  // unit, who

void require_complete(const std::map<Place, std::size_t>& found, const GaugeParts& parts, const std::string& reading) {
  std::vector<std::string> missing;
  for (const std::string& unit : parts.units)
    for (const std::string& who : parts.who) {
      const auto at = found.find({unit, who});
      const std::size_t have = at == found.end() ? 0 : at->second;
      if (have < parts.repeats)
        missing.push_back(
            fmt::format("{} by {} {} of {}", base::escaped(unit), base::escaped(who), have, parts.repeats));
    }
  if (missing.empty()) return;
  throw Error(ErrorCode::bad_input,
              fmt::format("the gauge study of {} is not complete: {}", reading.empty() ? "that reading" : reading,
                          fmt::join(missing, "; ")),
              "measure what is missing, or leave that unit or operator out");
}

}  // namespace

GaugeReport report_gauge(std::span<const record::ReadingRow> rows, const GaugeParts& parts) {
  require_usable(parts);
  const std::set<std::string> units(parts.units.begin(), parts.units.end());
  const std::set<std::string> people(parts.who.begin(), parts.who.end());
  GaugeReport report;
  std::vector<metrology::study::GaugeReading> readings;
  std::map<Place, std::size_t> taken;
  std::set<std::string> runs;
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) {
    const std::string& who = parts.by == By::benches ? row->bench : row->operator_name;
    if (!units.contains(row->serial) || !people.contains(who) || !runs.insert(row->run).second) continue;
    report.reading = row->name;
    std::size_t& have = taken[{row->serial, who}];
    if (have == parts.repeats) {
      ++report.left_over;
      continue;
    }
    ++have;
    report.unit = row->unit;
    readings.push_back({row->serial, who, row->value});
    if (row->limit && row->limit->at_least && row->limit->at_most) report.limit = row->limit;
  }
  require_complete(taken, parts, report.reading);
  metrology::study::GaugeOptions options;
  if (report.limit) options.limit_width = *report.limit->at_most - *report.limit->at_least;
  report.study = metrology::study::gauge_study(readings, options);
  return report;
}

namespace {

double percent_of(const Component& part) { return part.tolerance_percent.value_or(part.study_percent); }

std::string verdict_sentence(const GaugeReport& report) {
  const auto& study = report.study;
  const std::string against =
      report.limit ? fmt::format("of the width of the limits ({})", limit_text(*report.limit, report.unit))
                   : std::string("of the spread of these units (no limit with two sides is known)");
  const double percent = percent_of(study.gauge);
  switch (study.verdict) {
    case GaugeVerdict::good:
      return fmt::format("The measurement is good enough: its scatter takes {:.0f} % {}, below 10 %.", percent,
                         against);
    case GaugeVerdict::conditional:
      return fmt::format(
          "The measurement is good enough with care: its scatter takes {:.0f} % {}, between 10 % and "
          "30 %; a unit near a limit is measured more than once.",
          percent, against);
    case GaugeVerdict::not_usable: break;
  }
  return fmt::format("The measurement is not good enough for these limits: its scatter takes {:.0f} % {}, above 30 %.",
                     percent, against);
}

std::string cause_sentence(const GaugeReport& report, By by) {
  const auto& study = report.study;
  if (!(study.gauge.variance > 0)) return "No scatter of measuring was found.";
  const double people = study.reproducibility.variance / study.gauge.variance;
  const std::string share = fmt::format("{:.0f} % of its variance", 100 * (people > 0.5 ? people : 1 - people));
  if (people <= 0.5)
    return fmt::format(
        "Most of it ({}) comes from measuring the same unit again: look at the disc's place, at focus and "
        "settling, and average more captures.",
        share);
  return by == By::benches
             ? fmt::format("Most of it ({}) lies between the benches: prove them, and compare them by a check unit.",
                           share)
             : fmt::format("Most of it ({}) lies between the operators: have them do it alike.", share);
}

std::string categories_text(double categories) {
  return std::isinf(categories) ? std::string("any number of") : fmt::format("{:.0f}", std::floor(categories));
}

}  // namespace

std::vector<std::string> gauge_sentences(const GaugeReport& report, By by) {
  const auto& study = report.study;
  std::vector<std::string> told{verdict_sentence(report), cause_sentence(report, by)};
  told.push_back(fmt::format("It tells {} classes of these units apart; 5 or more are wanted.",
                             categories_text(study.categories)));
  if (!study.is_pooled)
    told.push_back(fmt::format("Some {} measure some units otherwise than others do (interaction, p {:.2g}).",
                               names_of(by), study.interaction_p));
  for (const std::string& note : study.notes) told.push_back("Note: " + note + ".");
  if (report.left_over > 0)
    told.push_back(
        fmt::format("Note: {} beyond the repeats left out, the newest.",
                    report.left_over == 1 ? "1 reading is" : fmt::format("{} readings are", report.left_over)));
  return told;
}

std::vector<std::string> gauge_table(const GaugeReport& report, By by) {
  const auto& study = report.study;
  std::vector<std::string> lines{
      fmt::format("{}: {} x {} x {} by analysis of variance{}", report.reading, counted(study.units, "unit"),
                  fmt::format("{} {}", study.operators, names_of(by)), counted(study.trials, "repeat"),
                  study.is_pooled ? ", interaction pooled with repeatability" : ""),
      fmt::format("{:<28} {:>14} {:>12} {:>12} {:>14}", "", "std. deviation", "% variance", "% of study",
                  "% of limits")};
  const std::pair<std::string, const Component*> rows[] = {
      {"measuring, all", &study.gauge},
      {"  same unit again", &study.repeatability},
      {fmt::format("  between {}", names_of(by)), &study.reproducibility},
      {"units", &study.unit},
      {"total", &study.total}};
  for (const auto& [name, part] : rows)
    lines.push_back(fmt::format("{:<28} {:>14} {:>12.1f} {:>12.1f} {:>14}", name,
                                fmt::format("{:.3g} {}", part->sd, report.unit), part->contribution_percent,
                                part->study_percent,
                                part->tolerance_percent ? fmt::format("{:.1f}", *part->tolerance_percent) : "-"));
  return lines;
}

namespace {

json::object component_json(const Component& part) {
  return {{"variance", part.variance},
          {"sd", part.sd},
          {"contribution_percent", part.contribution_percent},
          {"study_percent", part.study_percent},
          {"tolerance_percent", part.tolerance_percent ? json::value(*part.tolerance_percent) : json::value(nullptr)}};
}

const char* word_of(GaugeVerdict verdict) {
  switch (verdict) {
    case GaugeVerdict::good: return "good";
    case GaugeVerdict::conditional: return "conditional";
    case GaugeVerdict::not_usable: break;
  }
  return "not usable";
}

}  // namespace

json::object to_json(const GaugeReport& report, By by) {
  const auto& study = report.study;
  json::array told;
  for (const std::string& sentence : gauge_sentences(report, by))
    told.push_back(json::string(record::clean_utf8(sentence)));
  return {{"reading", json::string(record::clean_utf8(report.reading))},
          {"unit", json::string(record::clean_utf8(report.unit))},
          {"method", "analysis of variance"},
          {"by", json::string(names_of(by))},
          {"units", study.units},
          {"operators", study.operators},
          {"repeats", study.trials},
          {"at_least", report.limit ? json::value(*report.limit->at_least) : json::value(nullptr)},
          {"at_most", report.limit ? json::value(*report.limit->at_most) : json::value(nullptr)},
          {"verdict", word_of(study.verdict)},
          {"interaction_p", study.interaction_p},
          {"pooled", study.is_pooled},
          {"gauge", component_json(study.gauge)},
          {"repeatability", component_json(study.repeatability)},
          {"reproducibility", component_json(study.reproducibility)},
          {"unit_to_unit", component_json(study.unit)},
          {"total", component_json(study.total)},
          {"categories", std::isinf(study.categories) ? json::value(nullptr) : json::value(study.categories)},
          {"sentences", told}};
}

}  // namespace eyelevel::report::workshop
