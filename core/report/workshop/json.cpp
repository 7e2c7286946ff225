// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/json.hpp"

#include <boost/json/array.hpp>
#include <boost/json/string.hpp>
#include <cmath>

#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/workshop/sentences.hpp"

namespace eyelevel::report::workshop {

namespace json = boost::json;

namespace {

json::value text(std::string_view words) { return json::string(record::clean_utf8(words)); }

json::value utc(base::UtcTime at) { return text(record::utc_text(at)); }

json::object yield_json(const Yield& yield) {
  json::object o{{"of", text(yield.of)},         {"passed", yield.passed},         {"failed", yield.failed},
                 {"undecided", yield.undecided}, {"not_judged", yield.not_judged}, {"yield", nullptr},
                 {"yield_low", nullptr},         {"yield_high", nullptr}};
  if (const auto range = yield.range()) {
    o["yield"] = *yield.share();
    o["yield_low"] = range->low;
    o["yield_high"] = range->high;
  }
  return o;
}

json::array yields_json(const std::vector<Yield>& list) {
  json::array all;
  for (const Yield& one : list) all.push_back(yield_json(one));
  return all;
}

json::object limits_json(const metrology::chart::Limits& limits) {
  return {{"low", limits.low}, {"centre", limits.centre}, {"high", limits.high}};
}

json::object point_json(const Series& series, std::size_t at) {
  const Point& point = series.points[at];
  return {{"point", at + 1}, {"run", text(point.run)}, {"utc", utc(point.at)}};
}

json::array fired_json(const std::vector<Fired>& fired, const Series& series) {
  json::array list;
  for (const Fired& one : fired)
    list.push_back(json::object{{"rule", text(one.rule)},
                                {"times", one.points.size()},
                                {"first", point_json(series, one.points.front())},
                                {"last", point_json(series, one.points.back())}});
  return list;
}

json::array points_json(const std::vector<std::size_t>& points, const Series& series) {
  json::array list;
  for (const std::size_t at : points) list.push_back(point_json(series, at));
  return list;
}

json::value chart_json(const Chart& chart, const Series& series) {
  return json::object{{"place", limits_json(chart.limits.place)},
                      {"spread", limits_json(chart.limits.spread)},
                      {"fired", fired_json(chart.fired, series)},
                      {"spread_beyond", points_json(chart.wide, series)}};
}

json::value change_json(const std::optional<Change>& change) {
  if (!change) return nullptr;
  return json::object{{"since", utc(change->since)}, {"run", text(change->run)},
                      {"before", change->after},     {"after", change->count - change->after},
                      {"shift", change->shift()},    {"half_width", change->half_width},
                      {"chance", change->chance},    {"gradual", change->is_gradual},
                      {"per_day", change->per_day}};
}

json::object charted_json(const Charted& one) {
  json::array points;
  for (const Point& p : one.series.points)
    points.push_back(json::object{{"utc", utc(p.at)},
                                  {"run", text(p.run)},
                                  {"serial", text(p.serial)},
                                  {"operator", text(p.who)},
                                  {"value", p.value}});
  json::object o{{"model", text(one.series.model)},
                 {"bench", text(one.series.bench)},
                 {"centre", one.series.centre.value},
                 {"centre_is_reference", one.series.centre.count == 0},
                 {"points", points},
                 {"change", change_json(one.change)},
                 {"individuals", nullptr},
                 {"averages", nullptr},
                 {"weighted_beyond", json::array()},
                 {"base", nullptr}};
  if (!one.charts) return o;
  o["base"] = one.charts->base;
  o["individuals"] = chart_json(one.charts->individuals, one.series);
  if (one.charts->averages) o["averages"] = chart_json(*one.charts->averages, one.series);
  o["weighted_beyond"] = points_json(one.charts->weighted->beyond, one.series);
  return o;
}

json::array charted_json(const std::vector<Charted>& list) {
  json::array all;
  for (const Charted& one : list) all.push_back(charted_json(one));
  return all;
}

json::value or_null(const std::optional<double>& value) { return value ? json::value(*value) : json::value(nullptr); }

json::object capable_json(const Capable& one) {
  json::object o{{"model", text(one.model)},
                 {"at_least", or_null(one.limit.at_least)},
                 {"at_most", or_null(one.limit.at_most)},
                 {"count", one.count},
                 {"mean", one.mean},
                 {"sd", one.sd},
                 {"spread", or_null(one.figures.spread)},
                 {"spread_low", nullptr},
                 {"spread_high", nullptr},
                 {"nearest", one.figures.nearest},
                 {"nearest_low", one.figures.nearest_range.low},
                 {"nearest_high", one.figures.nearest_range.high},
                 {"stable", one.is_stable}};
  if (one.figures.spread_range) {
    o["spread_low"] = one.figures.spread_range->low;
    o["spread_high"] = one.figures.spread_range->high;
  }
  return o;
}

// JSON knows no infinity; a chance of 0 then says the same.
json::value finite(double value) { return std::isfinite(value) ? json::value(value) : json::value(nullptr); }

json::value compared_json(const std::optional<Compared>& compared) {
  if (!compared) return nullptr;
  json::array off, list;
  for (const auto& one : compared->off)
    off.push_back(
        json::object{{"operator", text(one.name)}, {"difference", one.difference}, {"half_width", one.half_width}});
  for (const auto& one : compared->result.groups)
    list.push_back(json::object{{"operator", text(one.name)},
                                {"count", one.count},
                                {"difference", one.difference},
                                {"half_width", one.half_width},
                                {"sd", one.sd},
                                {"scatter_p", one.scatter_p},
                                {"differs", one.is_off()}});
  return json::object{{"f", finite(compared->result.f)}, {"p", compared->result.p}, {"groups", list}, {"off", off}};
}

json::array texts(const std::vector<std::string>& list) {
  json::array all;
  for (const std::string& words : list) all.push_back(text(words));
  return all;
}

}  // namespace

json::object to_json(const Workshop& workshop) {
  json::array capable;
  for (const Capable& one : workshop.capable) capable.push_back(capable_json(one));
  return {{"reading", text(workshop.reading)},
          {"unit", text(workshop.unit)},
          {"readings", workshop.readings},
          {"sentences", texts(sentences(workshop))},
          {"yield", json::object{{"all", yield_json(workshop.yields.all)},
                                 {"by_model", yields_json(workshop.yields.model)},
                                 {"by_bench", yields_json(workshop.yields.bench)},
                                 {"by_operator", yields_json(workshop.yields.who)},
                                 {"units_by_lot", yields_json(workshop.yields.lot)},
                                 {"by_week", yields_json(workshop.yields.week)}}},
          {"charts", charted_json(workshop.benches)},
          {"check_unit", text(workshop.check_unit)},
          {"checks", charted_json(workshop.checks)},
          {"capability", capable},
          {"operators", compared_json(workshop.operators)},
          {"lots", compared_json(workshop.lots)},
          {"notes", texts(workshop.notes)}};
}

}  // namespace eyelevel::report::workshop
