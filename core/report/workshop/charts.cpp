// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/charts.hpp"

#include <algorithm>
#include <span>

namespace eyelevel::report::workshop {

namespace chart = metrology::chart;

namespace {

// "2 of 3 points more than 2 sigma below the centre (points 4 to 6)" without its places.
std::string rule_of(const chart::Signal& signal) {
  const std::string words = chart::describe(signal);
  return words.substr(0, words.rfind(" ("));
}

// `per_point`: readings of the series in one point of the chart.
std::vector<Fired> fired_on(const Chart& of, std::size_t per_point) {
  std::vector<Fired> list;
  for (const chart::Signal& signal : chart::signals(of.points, of.limits.place.centre, of.limits.point_sigma)) {
    const std::string rule = rule_of(signal);
    const std::size_t at = (signal.last + 1) * per_point - 1;
    auto known = std::find_if(list.begin(), list.end(), [&](const Fired& f) { return f.rule == rule; });
    if (known == list.end()) known = list.insert(list.end(), {rule, {}});
    known->points.push_back(at);
  }
  return list;
}

Chart individuals_of(std::span<const double> all, std::size_t base) {
  Chart one;
  one.limits = chart::individuals(all.first(base));
  one.points.assign(all.begin(), all.end());
  one.spread = chart::moving_ranges(all);
  one.fired = fired_on(one, 1);
  for (std::size_t i = 0; i < one.spread.size(); ++i)
    if (one.spread[i] > one.limits.spread.high) one.wide.push_back(i + 1);
  return one;
}

std::optional<Chart> averages_of(std::span<const double> all, std::size_t base) {
  if (base < 2 * sample_size) return std::nullopt;
  std::vector<std::vector<double>> samples;
  for (std::size_t at = 0; at + sample_size <= all.size(); at += sample_size) {
    const auto sample = all.subspan(at, sample_size);
    samples.emplace_back(sample.begin(), sample.end());
  }
  Chart one;
  one.limits = chart::averages(std::span(samples).first(base / sample_size), chart::SpreadBy::range);
  if (!(one.limits.point_sigma > 0)) return std::nullopt;
  for (const auto& sample : samples) {
    const auto [mean, range] = chart::point_of(sample, chart::SpreadBy::range);
    one.points.push_back(mean);
    one.spread.push_back(range);
    if (range > one.limits.spread.high) one.wide.push_back(one.points.size() * sample_size - 1);
  }
  one.fired = fired_on(one, sample_size);
  return one;
}

}  // namespace

std::optional<std::size_t> Charts::first_signal(std::size_t from) const {
  std::optional<std::size_t> first;
  const auto take = [&](std::size_t at) {
    if (at >= from && (!first || at < *first)) first = at;
  };
  for (const Fired& fired : individuals.fired) std::for_each(fired.points.begin(), fired.points.end(), take);
  if (averages)
    for (const Fired& fired : averages->fired) std::for_each(fired.points.begin(), fired.points.end(), take);
  if (weighted) std::for_each(weighted->beyond.begin(), weighted->beyond.end(), take);
  return first;
}

std::optional<Charts> charts_of(const Series& series, std::optional<std::size_t> well_until) {
  const std::vector<double> all = deviations_of(series);
  if (all.size() < least_for_chart) return std::nullopt;
  Charts charts;
  // Half as many again must be left to be held against limits, else those are of all readings.
  charts.base = all.size() < base_readings + base_readings / 2 ? all.size() : base_readings;
  if (well_until && *well_until >= least_for_chart) charts.base = std::min(charts.base, *well_until);
  charts.is_from_itself = charts.base == all.size();
  const auto limits = chart::individuals(std::span(all).first(charts.base));
  if (!(limits.point_sigma > 0)) return std::nullopt;
  charts.sigma = limits.within_sigma;
  charts.individuals = individuals_of(all, charts.base);
  charts.averages = averages_of(all, charts.base);
  constexpr double width = 2.962;  // 500 points between false alarms, as weighted.hpp says
  charts.weighted = chart::weighted_average(all, {limits.place.centre, limits.point_sigma, 0.2, width});
  return charts;
}

}  // namespace eyelevel::report::workshop
