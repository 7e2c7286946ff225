// SPDX-License-Identifier: Apache-2.0
// A gauge study reported, out of the runs that gauge_plan.hpp asked for: is the measurement good enough for the limits?
// The analysis is core/metrology/study/gauge.hpp; here it becomes words, a table and JSON.
#pragma once

#include <boost/json/object.hpp>

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/study/gauge.hpp"
#include "core/record/store/store.hpp"
#include "core/report/workshop/gauge_plan.hpp"

namespace eyelevel::report::workshop {

struct GaugeReport {
  std::string reading;
  std::string unit;
  metrology::study::GaugeStudy study;
  std::optional<metrology::Limit> limit;  // of the newest of its readings that has one with two sides
  std::size_t left_over = 0;              // readings beyond the repeats
};

// Out of rows of that reading (newest first, other units and operators among them): of each unit and operator the first
// `repeats`, one of a run. Throws Error(bad_input) as gauge_study, and where readings are missing, naming all of them.
GaugeReport report_gauge(std::span<const record::ReadingRow> rows, const GaugeParts& parts);

// The answer first, then where the scatter comes from and what to do about it.
std::vector<std::string> gauge_sentences(const GaugeReport& report, By by);
std::vector<std::string> gauge_table(const GaugeReport& report, By by);
boost::json::object to_json(const GaugeReport& report, By by);

}  // namespace eyelevel::report::workshop
