// SPDX-License-Identifier: Apache-2.0
// The store on a PostgreSQL server, over one connection. A commit that returned is on the server's disk. After a failed
// write it says "not recording" until it is opened anew: whether a commit was done whose answer never came, nobody
// knows here. Reading opens a new connection where the old one broke.
#include <fmt/format.h>

#include <array>
#include <mutex>

#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/postgres_link.hpp"
#include "core/record/store/readings.hpp"
#include "core/record/store/run_names.hpp"

namespace eyelevel::record {
namespace {

using base::Error;
using base::ErrorCode;
using base::ErrorRecord;
using pqxx::work;

ReadingRow reading_of(const pqxx::row& row) {
  const std::vector<std::string> words = texts(row);
  std::array<std::optional<double>, reading_numbers> numbers;
  for (std::size_t i = 0; i < reading_numbers; ++i)
    if (const std::string& text = words.at(reading_texts + i); !text.empty()) numbers[i] = number_from(text);
  return reading_from(words, numbers);
}

class PostgresStore final : public Store {
 public:
  PostgresStore(const std::string& where, Create create) : link_(where) { bring_up_to_date(link_, create); }

  std::string reserve_run(base::UtcTime now) override {
    return recorded("reserving a run", [&](work& transaction) {
      const std::string day = day_of(now);
      const auto number = transaction
                              .exec_params1(
                                  "INSERT INTO run_day AS known (day, last) VALUES ($1, 1) ON CONFLICT (day) "
                                  "DO UPDATE SET last = known.last + 1 RETURNING last",
                                  day)[0]
                              .as<std::int64_t>();
      std::string id = run_name(day, number);
      insert_run(transaction, id, {day, number});
      return id;
    });
  }

  void write(std::string_view run, std::span<const event::Event> events) override {
    recorded(fmt::format("storing {} events of run {}", events.size(), run), [&](work& transaction) {
      for (const event::Event& event : events) insert(transaction, std::string(run), event);
      return true;
    });
  }

  void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) override {
    const RunNumber number = run_number(run);
    recorded(fmt::format("bringing in run {}", run), [&](work& transaction) {
      transaction.exec_params(
          "INSERT INTO run_day AS known (day, last) VALUES ($1, $2) ON CONFLICT (day) DO UPDATE SET last = "
          "GREATEST(known.last, $2)",
          number.day, number.number);
      insert_run(transaction, std::string(run), number);
      for (const event::Event& event : events) {
        const auto stored = stored_text(transaction, run, event.number);
        if (stored)
          require_same_event(run, event.number, *stored, text_of(to_json(event)));
        else
          insert(transaction, std::string(run), event, program);
      }
      return true;
    });
  }

  bool drop(std::string_view run, std::span<const BookEntry> said) override {
    return recorded(fmt::format("dropping run {}", run), [&](work& transaction) {
      pqxx::result::size_type gone = 0;
      for (const char* sql : {"DELETE FROM chunk WHERE run = $1", "DELETE FROM reading WHERE run = $1",
                              "DELETE FROM event WHERE run = $1", "DELETE FROM run WHERE id = $1"})
        gone = transaction.exec_params0(sql, std::string(run)).affected_rows();
      if (gone > 0) noted(transaction, said);
      return gone > 0;
    });
  }

  bool thin_out(std::string_view run, std::span<const std::int64_t> captures,
                std::span<const BookEntry> said) override {
    return recorded(fmt::format("thinning out run {}", run), [&](work& transaction) {
      if (transaction.exec_params0(thinned_query, std::string(run)).affected_rows() == 0) return false;
      for (const std::int64_t capture : captures) {
        transaction.exec_params0("DELETE FROM chunk WHERE run = $1 AND event = $2", std::string(run), capture);
        insert_chunks(transaction, std::string(run), capture, {Chunk{}});
      }
      noted(transaction, said);
      return true;
    });
  }

  std::vector<RunSummary> runs(const RunQuery& query) override {
    return read([&](work& transaction) { return list(transaction, query); });
  }

  RunSummary run(std::string_view id) override {
    return read([&](work& transaction) { return find(transaction, id); });
  }

  std::vector<event::Event> events(std::string_view run, Samples samples) override {
    return read([&](work& transaction) {
      find(transaction, run);
      std::vector<event::Event> list;
      for (const auto& row :
           transaction.exec_params("SELECT body FROM event WHERE run = $1 ORDER BY number", std::string(run)))
        list.push_back(event_from(transaction, row[0].c_str(), run, samples));
      return list;
    });
  }

  std::vector<EventText> event_texts(std::string_view run, std::int64_t after) override {
    return read([&](work& transaction) {
      find(transaction, run);
      std::vector<EventText> list;
      for (const auto& row :
           transaction.exec_params("SELECT number, body FROM event WHERE run = $1 AND number > $2 ORDER BY number",
                                   std::string(run), after))
        list.push_back({row[0].as<std::int64_t>(), row[1].c_str()});
      return list;
    });
  }

  std::shared_ptr<const signal::Waveform> capture(std::string_view run, std::int64_t event_number) override {
    return capture_in(whole_event(run, event_number), run, event_number);
  }

  std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t event_number) override {
    return enclosure_in(whole_event(run, event_number), run, event_number);
  }

  std::vector<BookEntry> note(std::span<const BookEntry> entries) override {
    return recorded("writing into the books", [&](work& transaction) { return noted(transaction, entries); });
  }

  void bring_entries(std::span<const BookEntry> entries) override {
    recorded("bringing in entries of the books", [&](work& transaction) {
      transaction.exec("LOCK TABLE book IN SHARE ROW EXCLUSIVE MODE");
      for (const BookEntry& entry : entries) rows_of(transaction, bring_entry_query(entry));
      return true;
    });
  }

  std::vector<BookEntry> book(const BookQuery& query) override {
    return read([&](work& transaction) {
      std::vector<BookEntry> list;
      for (const auto& row : rows_of(transaction, book_query(query))) list.push_back(entry_from(texts(row)));
      return list;
    });
  }

  std::vector<ReadingRow> readings(const ReadingQuery& query) override {
    return read([&](work& transaction) {
      std::vector<ReadingRow> list;
      for (const auto& row : rows_of(transaction, readings_query(query))) list.push_back(reading_of(row));
      return list;
    });
  }

  std::vector<Tally> tallies(const TallyQuery& query) override {
    return read([&](work& transaction) {
      std::vector<Tally> list;
      for (const auto& row : rows_of(transaction, tallies_query(query))) list.push_back(tally_from(texts(row)));
      return list;
    });
  }

  bool works_inline() const override { return false; }
  std::string name() const override { return link_.name(); }

 private:
  static std::vector<BookEntry> noted(work& transaction, std::span<const BookEntry> entries) {
    // One writer at a time, so that each sees the place of the one before.
    transaction.exec("LOCK TABLE book IN SHARE ROW EXCLUSIVE MODE");
    std::vector<BookEntry> kept(entries.begin(), entries.end());
    for (BookEntry& entry : kept) {
      const auto rows = rows_of(transaction, note_query(entry));
      entry.number = rows[0][0].as<std::int64_t>();
      entry.placed = utc_from_text(rows[0][1].c_str());
    }
    return kept;
  }

  static void insert_chunks(work& transaction, const std::string& run, std::int64_t event_number,
                            const std::vector<Chunk>& list) {
    int part = 0;
    for (const Chunk& chunk : list)
      transaction.exec_params0(
          "INSERT INTO chunk (run, event, part, bytes) VALUES ($1, $2, $3, $4)", run, event_number, ++part,
          pqxx::binarystring(chunk.empty() ? static_cast<const void*>("") : chunk.data(), chunk.size()));
  }

  static void insert_run(work& transaction, const std::string& id, const RunNumber& of) {
    transaction.exec_params0("INSERT INTO run (id, day, number) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING", id, of.day,
                             of.number);
  }

  static void insert(work& transaction, const std::string& run, const event::Event& event,
                     std::string_view program = {}) {
    transaction.exec_params0("INSERT INTO event (run, number, body) VALUES ($1, $2, $3)", run, event.number,
                             text_of(to_json(event)));
    insert_chunks(transaction, run, event.number, chunks_of(event));
    if (std::holds_alternative<event::Begun>(event.body)) {
      RunSummary s;
      take_into(s, event);
      if (!program.empty()) s.program = program;
      transaction.exec_params0(
          "UPDATE run SET begun_utc = $1, sequence = $2, serial = $3, model = $4, bench = $5, program = $6, proves = "
          "$7 "
          "WHERE id = $8",
          utc_text(s.begun), kept_text(s.sequence), kept_text(s.serial), kept_text(s.model), kept_text(s.bench),
          s.program, kept_text(s.proves), run);
    } else if (const auto* answered = std::get_if<event::Answered>(&event.body)) {
      transaction.exec_params0("UPDATE run SET operator = $1 WHERE id = $2 AND operator = ''", kept_text(answered->by),
                               run);
      rows_of(transaction, operator_query(run, *answered));
    } else if (const auto* measured = std::get_if<event::Measured>(&event.body)) {
      rows_of(transaction, measured_query(run, event.number, *measured));
    } else if (const auto* judged = std::get_if<event::Judged>(&event.body)) {
      rows_of(transaction, judged_query(run, *judged));
    } else if (const auto* closed = std::get_if<event::Closed>(&event.body)) {
      transaction.exec_params0("UPDATE run SET closed_utc = $1, ended = $2, judgement = NULLIF($3, '') WHERE id = $4",
                               utc_text(event.utc), kept_text(closed->ended),
                               closed->judgement ? std::string(name_of(*closed->judgement)) : "", run);
    }
  }

  static std::optional<std::string> stored_text(work& transaction, std::string_view run, std::int64_t event_number) {
    const auto rows = transaction.exec_params("SELECT body FROM event WHERE run = $1 AND number = $2", std::string(run),
                                              event_number);
    if (rows.empty()) return std::nullopt;
    return rows[0][0].c_str();
  }

  std::optional<event::Event> whole_event(std::string_view run, std::int64_t event_number) {
    return read([&](work& transaction) -> std::optional<event::Event> {
      find(transaction, run);
      const auto text = stored_text(transaction, run, event_number);
      if (!text) return std::nullopt;
      return event_from(transaction, *text, run, Samples::all);
    });
  }

  static event::Event event_from(work& transaction, const std::string& text, std::string_view run, Samples samples) {
    return event_from_text(text, run, samples, [&](std::int64_t event) { return chunks(transaction, run, event); });
  }

  static std::vector<Chunk> chunks(work& transaction, std::string_view run, std::int64_t event_number) {
    std::vector<Chunk> list;
    for (const auto& row : transaction.exec_params(
             "SELECT bytes FROM chunk WHERE run = $1 AND event = $2 ORDER BY part", std::string(run), event_number)) {
      const pqxx::binarystring bytes(row[0]);
      const auto* begin = reinterpret_cast<const std::byte*>(bytes.data());
      list.emplace_back(begin, begin + bytes.size());
    }
    return list;
  }

  static std::vector<RunSummary> list(work& transaction, const RunQuery& query) {
    std::vector<RunSummary> found;
    for (const auto& row : rows_of(transaction, runs_query(query))) found.push_back(summary_from(texts(row)));
    return found;
  }

  RunSummary find(work& transaction, std::string_view id) const {
    const auto rows = rows_of(transaction, {one_run_query, {kept_text(id)}});
    if (!rows.empty()) return summary_from(texts(rows[0]));
    throw_unknown_run(id, link_.name(), list(transaction, {}));
  }

  // Runs a write; what fails once fails from then on.
  template <class Work>
  auto recorded(const std::string& attempted, Work work) -> decltype(work(std::declval<pqxx::work&>())) {
    const std::scoped_lock lock(mutex_);
    if (broken_) throw Error(*broken_);
    try {
      return link_.done(ErrorCode::not_recording, attempted, work);
    } catch (const Error& e) {
      if (e.record().code != ErrorCode::not_recording && e.record().code != ErrorCode::no_connection) throw;
      broken_ = e.record();
      broken_->code = ErrorCode::not_recording;
      broken_->message = "not recording: " + broken_->message;
    }
    throw Error(*broken_);
  }

  template <class Work>
  auto read(Work work) -> decltype(work(std::declval<pqxx::work&>())) {
    const std::scoped_lock lock(mutex_);
    try {
      return link_.done(ErrorCode::bad_input, "reading", work);
    } catch (Error& e) {
      if (e.record().where.find(link_.name()) == std::string::npos) e.within("store " + link_.name());
      throw;
    }
  }

  std::mutex mutex_;
  PostgresLink link_;
  std::optional<ErrorRecord> broken_;
};

}  // namespace

std::unique_ptr<Store> open_postgres_store(const std::string& where, Create create) {
  return std::make_unique<PostgresStore>(where, create);
}

}  // namespace eyelevel::record
