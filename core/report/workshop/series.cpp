// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/series.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "core/report/words.hpp"

namespace eyelevel::report::workshop {

namespace {

std::map<std::string, Centre> centres_of(std::span<const record::ReadingRow> rows,
                                         const std::map<std::string, double>& references) {
  std::map<std::string, Centre> centres;
  for (const record::ReadingRow& row : rows) {
    Centre& centre = centres[row.model];
    centre.value += row.value;
    ++centre.count;
  }
  for (auto& [model, centre] : centres) {
    const auto reference = references.find(model);
    centre = reference == references.end() ? Centre{centre.value / static_cast<double>(centre.count), centre.count}
                                           : Centre{reference->second, 0};
  }
  return centres;
}

}  // namespace

std::vector<Series> series_of(std::span<const record::ReadingRow> rows,
                              const std::map<std::string, double>& references) {
  const auto centres = centres_of(rows, references);
  std::map<std::pair<std::string, std::string>, Series> all;
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) {
    Series& series = all[{row->model, row->bench}];
    series.model = row->model;
    series.bench = row->bench;
    series.centre = centres.at(row->model);
    series.points.push_back(
        {row->begun, row->run, row->serial, row->operator_name, row->value, row->value - series.centre.value});
  }
  std::vector<Series> list;
  for (auto& [key, series] : all) list.push_back(std::move(series));
  return list;
}

std::vector<double> deviations_of(const Series& series) {
  std::vector<double> list;
  list.reserve(series.points.size());
  for (const Point& point : series.points) list.push_back(point.deviation);
  return list;
}

std::string amount_text(double deviation, const Scale& scale) {
  constexpr double far_from_0 = 5;
  if (std::abs(scale.centre) > far_from_0 * scale.spread && scale.centre != 0)
    return fmt::format("{:.2g} %", 100 * std::abs(deviation / scale.centre));
  return value_text(std::abs(deviation), 0, scale.unit);
}

}  // namespace eyelevel::report::workshop
