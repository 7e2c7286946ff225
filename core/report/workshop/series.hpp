// SPDX-License-Identifier: Apache-2.0
// Readings of one name as series in time, one for each model and bench, as deviations from what the model should read:
// its reference where there is one, else the mean of its readings. Models are different populations, and so are never
// put into one chart.
#pragma once

#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/record/store/store.hpp"

namespace eyelevel::report::workshop {

struct Point {
  base::UtcTime at{};  // when its run began
  std::string run;
  std::string serial;
  std::string who;
  double value = 0;
  double deviation = 0;  // in the unit of the reading
};

struct Centre {
  double value = 0;
  std::size_t count = 0;  // readings behind a mean; 0: a reference
};

struct Series {
  std::string model;
  std::string bench;
  Centre centre;
  std::vector<Point> points;  // oldest first
};

// `rows` of one name and unit, newest first as the store gives them; `references` by model.
std::vector<Series> series_of(std::span<const record::ReadingRow> rows,
                              const std::map<std::string, double>& references = {});

std::vector<double> deviations_of(const Series& series);

// A deviation as people say it: "4.0 %" of the centre, or "12 mV" where the centre lies so near 0 that a share of it
// says nothing (nearer than five times `spread`). Without a sign.
struct Scale {
  double centre = 0;
  double spread = 0;  // standard deviation of the readings
  std::string unit;
};
std::string amount_text(double deviation, const Scale& scale);

}  // namespace eyelevel::report::workshop
