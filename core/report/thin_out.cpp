// SPDX-License-Identifier: Apache-2.0
#include "core/report/thin_out.hpp"

#include <algorithm>
#include <map>
#include <memory>
#include <optional>
#include <tuple>
#include <utility>

#include "core/disc/analysis.hpp"

namespace eyelevel::report {

namespace {

constexpr std::size_t kept_of_a_series = 3;

struct Taken {
  std::int64_t event = 0;
  double time_s = 0;
  int index = 0;
  std::uint64_t samples = 0;
};
using Series = std::vector<Taken>;

// Captures of one name and signal belong together as long as they are counted on.
std::vector<Series> series_of(const std::vector<event::Event>& events) {
  std::map<std::tuple<std::string, std::string, bool>, std::vector<Series>> found;
  for (const event::Event& event : events) {
    const auto* captured = std::get_if<event::Captured>(&event.body);
    if (captured == nullptr || !captured->waveform) continue;
    const std::uint64_t samples = captured->waveform->size() + captured->samples_left_out;
    if (samples == 0) continue;
    auto& list = found[{captured->name, captured->signal, captured->not_kept.empty()}];
    if (list.empty() || captured->index <= list.back().back().index) list.emplace_back();
    const double start_s = captured->waveform->start_s;
    list.back().push_back({event.number, start_s > 0 ? start_s : event.time_s, captured->index, samples});
  }
  std::vector<Series> all;
  for (auto& [of, list] : found) std::move(list.begin(), list.end(), std::back_inserter(all));
  return all;
}

std::optional<double> level_of(record::Store& store, const std::string& run, std::int64_t event) {
  disc::AnalysisOptions options;
  options.subcode_wanted = false;
  options.errors_wanted = false;
  return disc::analyse(store.capture(run, event)->view(), options).level.peak_to_peak_v;
}

// The place of the median level; without levels, the one in the middle.
std::size_t median_place(const std::vector<std::optional<double>>& levels) {
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < levels.size(); ++i)
    if (levels[i]) places.push_back(i);
  if (places.empty()) return levels.size() / 2;
  const auto middle = places.begin() + static_cast<std::ptrdiff_t>(places.size() / 2);
  std::nth_element(places.begin(), middle, places.end(),
                   [&](std::size_t a, std::size_t b) { return std::pair(*levels[a], a) < std::pair(*levels[b], b); });
  return *middle;
}

void plan_series(ThinningPlan& plan, record::Store& store, const Series& series) {
  if (series.size() <= kept_of_a_series) {
    plan.said.kept += std::ssize(series);
    return;
  }
  std::vector<std::optional<double>> levels;
  for (const Taken& taken : series) levels.push_back(level_of(store, plan.run, taken.event));
  const std::size_t median = median_place(levels);
  for (std::size_t i = 0; i < series.size(); ++i) {
    if (i == 0 || i + 1 == series.size() || i == median) {
      ++plan.said.kept;
      continue;
    }
    plan.said.gone.push_back({series[i].event, series[i].time_s, levels[i]});
    plan.samples += series[i].samples;
  }
}

}  // namespace

std::vector<record::RunSummary> runs_to_thin_out(record::Store& store, base::UtcTime before) {
  record::RunQuery query;
  query.until = before;
  query.is_to_thin_out = true;
  query.at_most = static_cast<std::size_t>(-1);
  return store.runs(query);
}

ThinningPlan plan_thinning(record::Store& store, const std::string& run) {
  ThinningPlan plan{run, {}, 0};
  // Of another store, where it was done already.
  if (!store.book({.kind = record::Fields<record::CapturesThinned>::name, .subject = run}).empty()) return plan;
  for (const Series& series : series_of(store.events(run, record::Samples::none))) plan_series(plan, store, series);
  std::sort(plan.said.gone.begin(), plan.said.gone.end(),
            [](const auto& a, const auto& b) { return a.event < b.event; });
  return plan;
}

bool thin_out(record::Store& store, const ThinningPlan& plan, const record::Said& said) {
  std::vector<std::int64_t> captures;
  for (const auto& gone : plan.said.gone) captures.push_back(gone.event);
  std::vector<record::BookEntry> entries;
  if (!captures.empty()) entries.push_back(record::entry_of(plan.said, plan.run, store.run(plan.run).serial, said));
  return store.thin_out(plan.run, captures, entries);
}

}  // namespace eyelevel::report
