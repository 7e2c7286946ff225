// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/readings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <tuple>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"

namespace eyelevel::record {

namespace {

// AND column comparison value, for what was asked.
void only(Query& list, const char* column, const std::optional<std::string>& value) {
  if (!value) return;
  list.values.push_back(*value);
  list.sql += fmt::format(" AND {} ${}", column, list.values.size());
}

std::optional<std::string> text_of_time(const std::optional<base::UtcTime>& time) {
  return time ? std::optional(utc_text(*time)) : std::nullopt;
}

}  // namespace

Query readings_query(const ReadingQuery& query) {
  Query list{
      "SELECT run, name, unit, judgement, begun_utc, sequence, serial, model, bench, operator, number, value, "
      "standard_uncertainty, expanded_uncertainty, at_least, at_most FROM reading WHERE value IS NOT NULL",
      {}};
  only(list, "run =", query.run);
  only(list, "name =", query.name);
  only(list, "model =", query.model);
  only(list, "serial =", query.serial);
  only(list, "bench =", query.bench);
  only(list, "operator =", query.operator_name);
  only(list, "begun_utc >=", text_of_time(query.since));
  only(list, "begun_utc <", text_of_time(query.until));
  list.sql += fmt::format(" ORDER BY begun_utc DESC, run DESC, number DESC LIMIT {}",
                          std::min<std::size_t>(query.at_most, 1U << 30));
  return list;
}

double number_from(const std::string& text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error == std::errc() && end == text.data() + text.size()) return value;
  throw base::Error(base::ErrorCode::bad_input, fmt::format("\"{}\" is no number", base::escaped(text)),
                    "restore the store from a backup");
}

ReadingRow reading_from(std::span<const std::string> texts, std::span<const std::optional<double>> numbers) {
  ReadingRow row;
  row.run = texts[0];
  row.name = texts[1];
  row.unit = texts[2];
  row.judgement = judgement_from(texts[3]);
  row.begun = utc_from_text(texts[4]);
  row.sequence = texts[5];
  row.serial = texts[6];
  row.model = texts[7];
  row.bench = texts[8];
  row.operator_name = texts[9];
  row.number = static_cast<std::int64_t>(numbers[0].value());
  row.value = numbers[1].value();
  row.standard_uncertainty = numbers[2].value_or(0);
  row.expanded_uncertainty = numbers[3].value_or(0);
  if (numbers[4] || numbers[5]) row.limit = metrology::Limit{numbers[4], numbers[5]};
  return row;
}

namespace {

double finite_or_0(double value) { return std::isfinite(value) ? value : 0; }

// Empty: none, or not finite.
std::string text_of_number(const std::optional<double>& value) {
  return value && std::isfinite(*value) ? fmt::format("{}", *value) : "";
}

std::string word_of(const std::optional<metrology::Judgement>& judgement) {
  return judgement ? std::string(name_of(*judgement)) : "";
}

}  // namespace

Query measured_query(const std::string& run, std::int64_t number, const event::Measured& measured) {
  const metrology::Reading& r = measured.reading;
  const metrology::Limit limit = r.limit.value_or(metrology::Limit{});
  return {
      "INSERT INTO reading (run, number, name, unit, value, standard_uncertainty, expanded_uncertainty, at_least, "
      "at_most, judgement, begun_utc, sequence, serial, model, bench, operator) SELECT id, CAST($1 AS bigint), "
      "CAST($2 AS text), CAST($3 AS text), CAST(NULLIF($4, '') AS double precision), "
      "CAST(NULLIF($5, '') AS double precision), CAST(NULLIF($6, '') AS double precision), "
      "CAST(NULLIF($7, '') AS double precision), CAST(NULLIF($8, '') AS double precision), NULLIF($9, ''), begun_utc, "
      "sequence, serial, model, bench, operator FROM run WHERE id = $10",
      {fmt::format("{}", number), kept_text(r.name), kept_text(r.unit), text_of_number(r.value),
       text_of_number(r.interval.standard_uncertainty), text_of_number(r.interval.expanded_uncertainty),
       text_of_number(limit.at_least), text_of_number(limit.at_most), word_of(r.judgement), run}};
}

Query judged_query(const std::string& run, const event::Judged& judged) {
  return {
      "UPDATE reading SET judgement = $1, at_least = CAST(NULLIF($2, '') AS double precision), "
      "at_most = CAST(NULLIF($3, '') AS double precision) WHERE run = $4 AND number = "
      "(SELECT MAX(number) FROM reading WHERE run = $4 AND name = $5)",
      {std::string(name_of(judged.judgement)), text_of_number(judged.limit.at_least),
       text_of_number(judged.limit.at_most), run, kept_text(judged.reading)}};
}

Query operator_query(const std::string& run, const event::Answered& answered) {
  return {"UPDATE reading SET operator = $1 WHERE run = $2 AND operator = ''", {kept_text(answered.by), run}};
}

namespace {

// A judgement of one that is not finite is not that of an older one of its name, so that those stand here until the
// end.
struct Gather {
  const RunSummary& run;
  std::int64_t number = 0;
  std::vector<ReadingRow>& rows;

  void operator()(const event::Measured& measured) const {
    const metrology::Reading& r = measured.reading;
    rows.push_back({run.id, number, r.name, r.value, r.unit, finite_or_0(r.interval.standard_uncertainty),
                    finite_or_0(r.interval.expanded_uncertainty), r.limit, r.judgement, run.begun, run.sequence,
                    run.serial, run.model, run.bench, run.operator_name});
  }
  void operator()(const event::Judged& judged) const {
    const auto newest =
        std::find_if(rows.rbegin(), rows.rend(), [&](const ReadingRow& row) { return row.name == judged.reading; });
    if (newest == rows.rend()) return;
    newest->judgement = judged.judgement;
    newest->limit = judged.limit;
  }
  void operator()(const auto&) const {}
};

}  // namespace

std::vector<ReadingRow> readings_in(const RunSummary& run, std::span<const event::Event> events) {
  std::vector<ReadingRow> rows;
  for (const event::Event& event : events) std::visit(Gather{run, event.number, rows}, event.body);
  std::erase_if(rows, [](const ReadingRow& row) { return !std::isfinite(row.value); });
  return rows;
}

bool is_wanted(const ReadingRow& row, const ReadingQuery& query) {
  return query.run.value_or(row.run) == row.run && query.name.value_or(row.name) == row.name &&
         query.model.value_or(row.model) == row.model && query.serial.value_or(row.serial) == row.serial &&
         query.bench.value_or(row.bench) == row.bench &&
         query.operator_name.value_or(row.operator_name) == row.operator_name &&
         (!query.since || row.begun >= *query.since) && (!query.until || row.begun < *query.until);
}

Query tallies_query(const TallyQuery& query) {
  Query list{
      "SELECT day, model, bench, operator, sequence, COALESCE(judgement, ''), COUNT(*) FROM run WHERE ended <> '' AND "
      "proves = ''",
      {}};
  only(list, "day >=", query.since_day);
  only(list, "day <=", query.until_day);
  list.sql +=
      " GROUP BY day, model, bench, operator, sequence, judgement ORDER BY day, model, bench, operator, sequence, "
      "judgement";
  return list;
}

Tally tally_from(const std::vector<std::string>& row) {
  return {row.at(0), row.at(1), row.at(2), row.at(3), row.at(4), judgement_from(row.at(5)), std::stoll(row.at(6))};
}

std::vector<Tally> tallies_of(std::span<const RunSummary> runs, const TallyQuery& query) {
  using Key = std::tuple<std::string, std::string, std::string, std::string, std::string, std::string>;
  std::map<Key, std::int64_t> counts;
  for (const RunSummary& run : runs) {
    const std::string day = run_number(run.id).day;
    if (run.ended.empty() || !run.proves.empty() || day < query.since_day.value_or(day) ||
        day > query.until_day.value_or(day))
      continue;
    ++counts[{day, run.model, run.bench, run.operator_name, run.sequence, word_of(run.judgement)}];
  }
  std::vector<Tally> list;
  for (const auto& [key, count] : counts) {
    const auto& [day, model, bench, who, sequence, judgement] = key;
    list.push_back({day, model, bench, who, sequence, judgement_from(judgement), count});
  }
  return list;
}

}  // namespace eyelevel::record
