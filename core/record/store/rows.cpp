// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <span>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"

namespace eyelevel::record {

using base::Error;
using base::ErrorCode;

std::optional<metrology::Judgement> judgement_from(const std::string& word) {
  for (const auto j : {metrology::Judgement::pass, metrology::Judgement::fail, metrology::Judgement::undecided})
    if (name_of(j) == word) return j;
  return std::nullopt;
}

Query runs_query(const RunQuery& query) {
  Query list{
      "SELECT id, begun_utc, closed_utc, sequence, serial, model, bench, ended, judgement, program, proves, operator "
      "FROM run WHERE begun_utc > ''",
      {}};
  const auto only = [&](const char* column, const std::optional<std::string>& value) {
    if (!value) return;
    list.values.push_back(*value);
    list.sql += fmt::format(" AND {} ${}", column, list.values.size());
  };
  only("id =", query.id);
  only("serial =", query.serial);
  only("sequence =", query.sequence);
  only("bench =", query.bench);
  only("proves =", query.proves);
  only("model =", query.model);
  only("operator =", query.operator_name);
  if (query.judgement) only("judgement =", std::string(name_of(*query.judgement)));
  if (query.from) only("begun_utc >=", utc_text(*query.from));
  if (query.until) only("begun_utc <", utc_text(*query.until));
  if (query.is_to_thin_out) list.sql += " AND thinned = 0 AND ended <> ''";     // as the index says it
  if (query.proves && !query.proves->empty()) list.sql += " AND proves <> ''";  // as the index of proofs says it
  list.sql += fmt::format(" ORDER BY begun_utc DESC, day DESC, number DESC LIMIT {}",
                          std::min<std::size_t>(query.at_most, 1U << 30));
  return list;
}

RunSummary summary_from(const std::vector<std::string>& row) {
  RunSummary s;
  s.id = row.at(0);
  s.begun = utc_from_text(row.at(1));
  if (!row.at(2).empty()) s.closed = utc_from_text(row.at(2));
  s.sequence = row.at(3);
  s.serial = row.at(4);
  s.model = row.at(5);
  s.bench = row.at(6);
  s.ended = row.at(7);
  s.judgement = judgement_from(row.at(8));
  s.program = row.at(9);
  s.proves = row.at(10);
  s.operator_name = row.at(11);
  return s;
}

namespace {

std::vector<std::string> values_of(const BookEntry& entry) {
  return {utc_text(entry.utc), kept_text(entry.kind),    kept_text(entry.subject), kept_text(entry.concerns),
          kept_text(entry.by), kept_text(entry.because), kept_text(entry.body)};
}

}  // namespace

Query note_query(const BookEntry& entry) {
  return {
      "INSERT INTO book (placed_utc, utc, kind, subject, concerns, by_whom, because, body) VALUES "
      "(COALESCE((SELECT MAX(placed_utc) FROM book WHERE placed_utc > $1), $1), $1, $2, $3, $4, $5, $6, $7) "
      "RETURNING number, placed_utc",
      values_of(entry)};
}

Query bring_entry_query(const BookEntry& entry) {
  Query query{
      "INSERT INTO book (placed_utc, utc, kind, subject, concerns, by_whom, because, body) "
      "SELECT CAST($1 AS text), CAST($2 AS text), CAST($3 AS text), CAST($4 AS text), CAST($5 AS text), "
      "CAST($6 AS text), CAST($7 AS text), CAST($8 AS text) WHERE NOT EXISTS (SELECT 1 FROM book WHERE placed_utc = $1 "
      "AND utc = $2 AND kind = $3 AND subject = $4 AND concerns = $5 AND by_whom = $6 AND because = $7 AND body = $8)",
      values_of(entry)};
  query.values.insert(query.values.begin(), utc_text(entry.placed));
  return query;
}

Query book_query(const BookQuery& query) {
  Query list{
      "SELECT number, placed_utc, utc, kind, subject, concerns, by_whom, because, body FROM book WHERE placed_utc > ''",
      {}};
  const auto only = [&](const char* column, const std::optional<std::string>& value) {
    if (!value) return;
    list.values.push_back(*value);
    list.sql += fmt::format(" AND {} = ${}", column, list.values.size());
  };
  only("kind", query.kind);
  only("subject", query.subject);
  only("concerns", query.concerns);
  list.sql += " ORDER BY placed_utc, number";
  return list;
}

BookEntry entry_from(const std::vector<std::string>& row) {
  BookEntry entry;
  entry.number = std::stoll(row.at(0));
  entry.placed = utc_from_text(row.at(1));
  entry.utc = utc_from_text(row.at(2));
  entry.kind = row.at(3);
  entry.subject = row.at(4);
  entry.concerns = row.at(5);
  entry.by = row.at(6);
  entry.because = row.at(7);
  entry.body = row.at(8);
  return entry;
}

RunNumber run_number(std::string_view run) {
  constexpr std::size_t day_length = 10;
  RunNumber found;
  if (run.size() > day_length + 1 && run[day_length] == '-') {
    const auto digits = run.substr(day_length + 1);
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), found.number);
    found.day = run.substr(0, day_length);
    if (error == std::errc() && end == digits.data() + digits.size() && found.number > 0) return found;
  }
  throw Error(ErrorCode::bad_input,
              fmt::format("\"{}\" is no run: expected a day and a number, 2030-01-07-3", base::escaped(run)));
}

std::vector<Chunk> chunks_of(const event::Event& event) {
  if (const auto* captured = std::get_if<event::Captured>(&event.body); captured != nullptr && captured->waveform) {
    if (captured->samples_left_out > 0) return {Chunk{}};
    return pack(captured->waveform->codes);
  }
  if (const auto* enclosed = std::get_if<event::Enclosed>(&event.body); enclosed != nullptr && enclosed->content)
    return pack(std::as_bytes(std::span(*enclosed->content)));
  return {};
}

event::Event event_from_text(const std::string& text, std::string_view run, Samples samples,
                             const std::function<std::vector<Chunk>(std::int64_t event)>& chunks) {
  const auto json = parse_json(text, fmt::format("an event of run {}", run));
  if (!json.is_object())
    throw Error(ErrorCode::bad_input, fmt::format("run {} is damaged: an event is no mapping", run),
                "restore it from a backup");
  event::Event event = event_from_json(json.get_object());
  if (samples == Samples::none) return event;
  if (auto* captured = std::get_if<event::Captured>(&event.body); captured != nullptr && captured->waveform) {
    const auto found = chunks(event.number);
    if (found.size() == 1 && found.front().empty()) return event;  // thinned out
    signal::Waveform waveform = *captured->waveform;
    const SampleCount count = samples_of(json.get_object());
    waveform.codes = unpack(count.type, count.samples, found);
    captured->samples_left_out = 0;
    captured->waveform = std::make_shared<const signal::Waveform>(std::move(waveform));
  }
  if (auto* enclosed = std::get_if<event::Enclosed>(&event.body)) {
    const auto size_bytes = static_cast<std::uint64_t>(std::max<std::int64_t>(enclosed->size_bytes, 0));
    enclosed->content = std::make_shared<const std::string>(unpack_bytes(size_bytes, chunks(event.number)));
  }
  return event;
}

void require_same_event(std::string_view run, std::int64_t number, const std::string& stored,
                        const std::string& brought) {
  if (stored == brought) return;
  throw Error(ErrorCode::bad_input,
              fmt::format("there is another run {} already: its event {} is not the one that is brought", run, number),
              "nothing of it was written; keep the two stores apart");
}

std::shared_ptr<const signal::Waveform> capture_in(const std::optional<event::Event>& event, std::string_view run,
                                                   std::int64_t event_number) {
  const auto* captured = event ? std::get_if<event::Captured>(&event->body) : nullptr;
  if (captured != nullptr && captured->samples_left_out > 0)
    throw Error(ErrorCode::not_found,
                fmt::format("run {}: the samples of event {} were thinned out of the record", run, event_number),
                "a backup or an archive that is older may hold them");
  if (captured != nullptr && captured->waveform) return captured->waveform;
  throw Error(ErrorCode::not_found, fmt::format("run {}: event {} holds no samples", run, event_number));
}

std::shared_ptr<const std::string> enclosure_in(const std::optional<event::Event>& event, std::string_view run,
                                                std::int64_t event_number) {
  const auto* enclosed = event ? std::get_if<event::Enclosed>(&event->body) : nullptr;
  if (enclosed != nullptr && enclosed->content) return enclosed->content;
  throw Error(ErrorCode::not_found, fmt::format("run {}: event {} encloses nothing", run, event_number));
}

std::string kept_text(std::string_view text) {
  std::string kept;
  for (const char c : clean_utf8(text)) {
    if (c == '\0')
      kept += "\xEF\xBF\xBD";
    else
      kept += c;
  }
  return kept;
}

}  // namespace eyelevel::record
