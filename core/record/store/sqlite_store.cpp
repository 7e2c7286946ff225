// SPDX-License-Identifier: Apache-2.0
// The store in one SQLite file: WAL with synchronous=FULL, so that a commit that returned survives a kill and a power
// cut. After a failed commit the connection is not trusted with another (a second fsync may report success for pages
// that were lost): the store says "not recording" until it is opened anew.
#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include <array>
#include <mutex>
#include <system_error>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/migration/migrations.hpp"
#include "core/record/store/readings.hpp"
#include "core/record/store/rows.hpp"
#include "core/record/store/run_names.hpp"
#include "core/record/store/sqlite_error.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {
namespace {

using base::Error;
using base::ErrorCode;
using base::ErrorRecord;
using SQLite::Statement;

std::int64_t number_of(SQLite::Database& db, const std::string& query) { return db.execAndGet(query).getInt64(); }

Statement prepared(SQLite::Database& db, const Query& query) {
  Statement statement(db, query.sql);
  int at = 0;
  for (const std::string& value : query.values) statement.bind(++at, value);
  return statement;
}

std::vector<std::string> texts(Statement& row) {
  std::vector<std::string> list;
  for (int i = 0; i < row.getColumnCount(); ++i) list.push_back(row.getColumn(i).getString());
  return list;
}

ReadingRow reading_of(Statement& row) {
  std::array<std::string, reading_texts> words;
  std::array<std::optional<double>, reading_numbers> numbers;
  int at = 0;
  for (std::string& word : words) word = row.getColumn(at++).getString();
  for (auto& number : numbers)
    if (const auto column = row.getColumn(at++); !column.isNull()) number = column.getDouble();
  return reading_from(words, numbers);
}

class SqliteStore final : public Store {
 public:
  // `name` is what SQLite opens: the path, or its URI with how it is to be opened.
  SqliteStore(std::string path, const std::string& name, int flags, const FileOptions& options)
      : path_(std::move(path)), db_(name, flags, options.busy_wait_ms, options.vfs) {
    check_whose();
    if ((flags & SQLite::OPEN_READONLY) != 0) {
      require_up_to_date();
      return;
    }
    bring_up_to_date();
    keep_a_write_ahead_log();
    db_.exec("PRAGMA synchronous=FULL");
    db_.exec("PRAGMA foreign_keys=ON");
    if (options.size_bytes_max) {
      const auto page = number_of(db_, "PRAGMA page_size");
      number_of(db_,
                fmt::format("PRAGMA max_page_count={}", static_cast<std::int64_t>(*options.size_bytes_max) / page));
    }
  }

  // Where another program opens the same new file at that moment, SQLite answers busy at once, without the wait that
  // was asked for. A transaction does wait for it.
  void keep_a_write_ahead_log() {
    constexpr int attempts = 20;
    for (int left = attempts; db_.tryExec("PRAGMA journal_mode=WAL") != SQLITE_OK; --left) {
      if (db_.getErrorCode() != SQLITE_BUSY || left == 0) throw SQLite::Exception(db_.getHandle());
      SQLite::Transaction(db_, SQLite::TransactionBehavior::IMMEDIATE).commit();
    }
  }

  std::string reserve_run(base::UtcTime now) override {
    const std::scoped_lock lock(mutex_);
    return recorded("reserving a run", [&] {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      const std::string day = day_of(now);
      const std::int64_t number = next_number(day);
      std::string id = run_name(day, number);
      insert_run(id, {day, number});
      transaction.commit();
      return id;
    });
  }

  void write(std::string_view run, std::span<const event::Event> events) override {
    const std::scoped_lock lock(mutex_);
    recorded(fmt::format("storing {} events of run {}", events.size(), run), [&] {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      for (const event::Event& event : events) insert(std::string(run), event);
      transaction.commit();
      return true;
    });
  }

  void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) override {
    const std::scoped_lock lock(mutex_);
    const RunNumber number = run_number(run);
    recorded(fmt::format("bringing in run {}", run), [&] {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      insert_run(std::string(run), number);
      for (const event::Event& event : events) {
        const auto stored = stored_text(run, event.number);
        if (stored)
          require_same_event(run, event.number, *stored, text_of(to_json(event)));
        else
          insert(std::string(run), event, program);
      }
      transaction.commit();
      return true;
    });
  }

  bool drop(std::string_view run, std::span<const BookEntry> said) override {
    const std::scoped_lock lock(mutex_);
    return recorded(fmt::format("dropping run {}", run), [&] {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      int gone = 0;
      for (const char* sql : {"DELETE FROM chunk WHERE run = $1", "DELETE FROM reading WHERE run = $1",
                              "DELETE FROM event WHERE run = $1", "DELETE FROM run WHERE id = $1"})
        gone = prepared(db_, {sql, {std::string(run)}}).exec();
      if (gone > 0)
        for (const BookEntry& entry : said) noted(entry);
      transaction.commit();
      return gone > 0;
    });
  }

  bool thin_out(std::string_view run, std::span<const std::int64_t> captures,
                std::span<const BookEntry> said) override {
    const std::scoped_lock lock(mutex_);
    return recorded(fmt::format("thinning out run {}", run), [&] {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      if (prepared(db_, {thinned_query, {std::string(run)}}).exec() == 0) return false;
      for (const std::int64_t capture : captures) {
        Statement gone(db_, "DELETE FROM chunk WHERE run = ? AND event = ?");
        gone.bind(1, std::string(run));
        gone.bind(2, capture);
        gone.exec();
        insert_chunks(std::string(run), capture, {Chunk{}});
      }
      for (const BookEntry& entry : said) noted(entry);
      transaction.commit();
      return true;
    });
  }

  std::vector<RunSummary> runs(const RunQuery& query) override {
    const std::scoped_lock lock(mutex_);
    return read([&] { return list(query); });
  }

  RunSummary run(std::string_view id) override {
    const std::scoped_lock lock(mutex_);
    return read([&] { return find(id); });
  }

  std::vector<event::Event> events(std::string_view run, Samples samples) override {
    const std::scoped_lock lock(mutex_);
    return read([&] {
      find(run);
      std::vector<event::Event> list;
      Statement row(db_, "SELECT body FROM event WHERE run = ? ORDER BY number");
      row.bind(1, std::string(run));
      while (row.executeStep()) list.push_back(event_from(row.getColumn(0).getString(), run, samples));
      return list;
    });
  }

  std::vector<EventText> event_texts(std::string_view run, std::int64_t after) override {
    const std::scoped_lock lock(mutex_);
    return read([&] {
      find(run);
      std::vector<EventText> list;
      Statement row(db_, "SELECT number, body FROM event WHERE run = ? AND number > ? ORDER BY number");
      row.bind(1, std::string(run));
      row.bind(2, after);
      while (row.executeStep()) list.push_back({row.getColumn(0).getInt64(), row.getColumn(1).getString()});
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
    const std::scoped_lock lock(mutex_);
    return recorded("writing into the books", [&] {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      std::vector<BookEntry> kept(entries.begin(), entries.end());
      for (BookEntry& entry : kept) entry = noted(entry);
      transaction.commit();
      return kept;
    });
  }

  void bring_entries(std::span<const BookEntry> entries) override {
    const std::scoped_lock lock(mutex_);
    recorded("bringing in entries of the books", [&] {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      for (const BookEntry& entry : entries) prepared(db_, bring_entry_query(entry)).exec();
      transaction.commit();
      return true;
    });
  }

  std::vector<BookEntry> book(const BookQuery& query) override {
    const std::scoped_lock lock(mutex_);
    return read([&] {
      std::vector<BookEntry> list;
      Statement row = prepared(db_, book_query(query));
      while (row.executeStep()) list.push_back(entry_from(texts(row)));
      return list;
    });
  }

  std::vector<ReadingRow> readings(const ReadingQuery& query) override {
    const std::scoped_lock lock(mutex_);
    return read([&] {
      std::vector<ReadingRow> list;
      Statement row = prepared(db_, readings_query(query));
      while (row.executeStep()) list.push_back(reading_of(row));
      return list;
    });
  }

  std::vector<Tally> tallies(const TallyQuery& query) override {
    const std::scoped_lock lock(mutex_);
    return read([&] {
      std::vector<Tally> list;
      Statement row = prepared(db_, tallies_query(query));
      while (row.executeStep()) list.push_back(tally_from(texts(row)));
      return list;
    });
  }

  bool works_inline() const override { return false; }
  std::string name() const override { return path_; }

 private:
  void check_whose() {
    const auto tables = number_of(db_, "SELECT COUNT(*) FROM sqlite_master");
    const auto application = number_of(db_, "PRAGMA application_id");
    if (application != store_application_id && (tables > 0 || application != 0)) {
      throw bad_file(path_, "this is the database of another program; nothing was written to it",
                     "name another file with --store");
    }
    const auto format = number_of(db_, "PRAGMA user_version");
    const auto known = static_cast<std::int64_t>(migrations().size());
    if (format > known) {
      throw bad_file(path_,
                     fmt::format("a newer eyelevel wrote this store: its format is {}, this program knows formats up "
                                 "to {}; nothing was written to it",
                                 format, known),
                     "use the newer program, or name another file with --store");
    }
  }

  void require_up_to_date() {
    const auto known = static_cast<std::int64_t>(migrations().size());
    const auto format = number_of(db_, "PRAGMA user_version");
    if (format == known) return;
    throw bad_file(
        path_,
        fmt::format("its format is {}, this program would bring it to {}, but it cannot be written", format, known),
        "copy it to a folder that you may write to, and name the copy with --store");
  }

  void bring_up_to_date() {
    const auto known = static_cast<std::int64_t>(migrations().size());
    if (number_of(db_, "PRAGMA user_version") == known) return;
    SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
    // Read again: another process may have done it while this one waited for the lock.
    for (auto format = number_of(db_, "PRAGMA user_version"); format < known; ++format) {
      db_.exec(migrations()[static_cast<std::size_t>(format)]);
      db_.exec(fmt::format("PRAGMA user_version={}", format + 1));
    }
    db_.exec(fmt::format("PRAGMA application_id={}", store_application_id));
    transaction.commit();
  }

  BookEntry noted(BookEntry entry) {
    Statement row = prepared(db_, note_query(entry));
    row.executeStep();
    entry.number = row.getColumn(0).getInt64();
    entry.placed = utc_from_text(row.getColumn(1).getString());
    return entry;
  }

  std::optional<std::string> stored_text(std::string_view run, std::int64_t event_number) {
    Statement row(db_, "SELECT body FROM event WHERE run = ? AND number = ?");
    row.bind(1, std::string(run));
    row.bind(2, event_number);
    if (!row.executeStep()) return std::nullopt;
    return row.getColumn(0).getString();
  }

  std::optional<event::Event> whole_event(std::string_view run, std::int64_t event_number) {
    const std::scoped_lock lock(mutex_);
    return read([&]() -> std::optional<event::Event> {
      find(run);
      const auto text = stored_text(run, event_number);
      if (!text) return std::nullopt;
      return event_from(*text, run, Samples::all);
    });
  }

  std::int64_t next_number(const std::string& day) {
    Statement last(db_,
                   "INSERT INTO run_day (day, last) VALUES ($1, 1) "
                   "ON CONFLICT (day) DO UPDATE SET last = last + 1 RETURNING last");
    last.bind(1, day);
    last.executeStep();
    return last.getColumn(0).getInt64();
  }

  // Where it is there already, nothing; a number of that day that is not given again.
  void insert_run(const std::string& id, const RunNumber& of) {
    Statement row(db_, "INSERT INTO run (id, day, number) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING");
    row.bind(1, id);
    row.bind(2, of.day);
    row.bind(3, of.number);
    row.exec();
    Statement day(
        db_, "INSERT INTO run_day (day, last) VALUES ($1, $2) ON CONFLICT (day) DO UPDATE SET last = MAX(last, $2)");
    day.bind(1, of.day);
    day.bind(2, of.number);
    day.exec();
  }

  void insert(const std::string& run, const event::Event& event, std::string_view program = {}) {
    Statement row(db_, "INSERT INTO event (run, number, body) VALUES (?, ?, ?)");
    row.bind(1, run);
    row.bind(2, event.number);
    row.bind(3, text_of(to_json(event)));
    row.exec();
    insert_chunks(run, event.number, chunks_of(event));
    if (std::holds_alternative<event::Begun>(event.body)) {
      RunSummary s;
      take_into(s, event);
      if (!program.empty()) s.program = program;
      Statement update(db_,
                       "UPDATE run SET begun_utc=?, sequence=?, serial=?, model=?, bench=?, program=?, proves=? "
                       "WHERE id=?");
      int at = 0;
      for (const std::string& value :
           {utc_text(s.begun), s.sequence, s.serial, s.model, s.bench, s.program, s.proves, run}) {
        update.bind(++at, clean_utf8(value));
      }
      update.exec();
    } else if (const auto* answered = std::get_if<event::Answered>(&event.body)) {
      Statement update(db_, "UPDATE run SET operator=? WHERE id=? AND operator=''");
      update.bind(1, clean_utf8(answered->by));
      update.bind(2, run);
      update.exec();
      prepared(db_, operator_query(run, *answered)).exec();
    } else if (const auto* measured = std::get_if<event::Measured>(&event.body)) {
      prepared(db_, measured_query(run, event.number, *measured)).exec();
    } else if (const auto* judged = std::get_if<event::Judged>(&event.body)) {
      prepared(db_, judged_query(run, *judged)).exec();
    } else if (const auto* closed = std::get_if<event::Closed>(&event.body)) {
      Statement update(db_, "UPDATE run SET closed_utc=?, ended=?, judgement=? WHERE id=?");
      update.bind(1, utc_text(event.utc));
      update.bind(2, clean_utf8(closed->ended));
      if (closed->judgement) update.bind(3, std::string(name_of(*closed->judgement)));
      update.bind(4, run);
      update.exec();
    }
  }

  void insert_chunks(const std::string& run, std::int64_t event_number, const std::vector<Chunk>& list) {
    int part = 0;
    for (const Chunk& chunk : list) {
      Statement row(db_, "INSERT INTO chunk (run, event, part, bytes) VALUES (?, ?, ?, ?)");
      row.bind(1, run);
      row.bind(2, event_number);
      row.bind(3, ++part);
      // No place at all would be NULL (SQLite, sqlite3_bind_blob).
      row.bind(4, chunk.empty() ? static_cast<const void*>("") : chunk.data(), static_cast<int>(chunk.size()));
      row.exec();
    }
  }

  event::Event event_from(const std::string& text, std::string_view run, Samples samples) {
    return event_from_text(text, run, samples, [&](std::int64_t event) { return chunks(run, event); });
  }

  std::vector<Chunk> chunks(std::string_view run, std::int64_t event_number) {
    std::vector<Chunk> list;
    Statement row(db_, "SELECT bytes FROM chunk WHERE run = ? AND event = ? ORDER BY part");
    row.bind(1, std::string(run));
    row.bind(2, event_number);
    while (row.executeStep()) {
      const SQLite::Column blob = row.getColumn(0);
      const auto* bytes = static_cast<const std::byte*>(blob.getBlob());
      list.emplace_back(bytes, bytes + blob.getBytes());
    }
    return list;
  }

  std::vector<RunSummary> list(const RunQuery& query) {
    Statement row = prepared(db_, runs_query(query));
    std::vector<RunSummary> found;
    while (row.executeStep()) found.push_back(summary_from(texts(row)));
    return found;
  }

  RunSummary find(std::string_view id) {
    Statement row = prepared(db_, {one_run_query, {std::string(id)}});
    if (row.executeStep()) return summary_from(texts(row));
    throw_unknown_run(id, path_, list({}));
  }

  // Runs a write; what fails once fails from then on.
  template <class Work>
  auto recorded(const std::string& attempted, Work work) -> decltype(work()) {
    if (broken_) throw Error(*broken_);
    try {
      return work();
    } catch (const SQLite::Exception& e) {
      const Error error = error_of(ErrorCode::not_recording, path_, attempted, e);
      broken_ = error.record();
      throw error;
    }
  }

  template <class Work>
  auto read(Work work) -> decltype(work()) {
    try {
      return work();
    } catch (const SQLite::Exception& e) {
      throw error_of(ErrorCode::bad_input, path_, "reading", e);
    } catch (Error& e) {
      if (e.record().where.find(path_) == std::string::npos) e.within("store " + path_);
      throw;
    }
  }

  std::string path_;
  std::mutex mutex_;
  SQLite::Database db_;
  std::optional<ErrorRecord> broken_;
};

}  // namespace

namespace {

namespace fs = std::filesystem;

// SQLite's URI of a path; what would end the path or begin an escape is escaped.
std::string uri_of(const std::string& path, std::string_view how) {
  std::string uri = "file:";
  for (const char c : fs::absolute(path).string()) {
    if (c == '%' || c == '?' || c == '#')
      uri += fmt::format("%{:02X}", static_cast<unsigned char>(c));
    else
      uri += c;
  }
  return uri + std::string(how);
}

bool is_writable(const fs::path& path) {
  const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
  return ::access(path.c_str(), W_OK) == 0 && ::access(folder.c_str(), W_OK) == 0;
}

// A store on a read-only medium, or in somebody else's folder. SQLite then takes the file for unchangeable, which is
// wrong while a journal beside it holds newer events.
std::unique_ptr<Store> open_unwritable(const std::string& path, const FileOptions& options) {
  std::error_code error;
  const bool has_journal = fs::file_size(path + "-wal", error) > 0 && !error;
  const int flags = SQLite::OPEN_READONLY | SQLITE_OPEN_URI;
  try {
    return std::make_unique<SqliteStore>(path, uri_of(path, has_journal ? "" : "?immutable=1"), flags, options);
  } catch (const SQLite::Exception& e) {
    if (!has_journal || cause_of(e).message == "it is damaged") throw;
    throw bad_file(path,
                   fmt::format("it was not closed and its folder cannot be written, so that its newest events, in {}, "
                               "cannot be read here",
                               path + "-wal"),
                   "copy both files to a folder that you may write to, and name the copy with --store");
  }
}

void require_file(const fs::path& path) {
  std::error_code error;
  const auto status = fs::status(path, error);
  if (!fs::exists(status) || fs::is_regular_file(status)) return;
  throw bad_file(path.string(), fs::is_directory(status) ? "this is a folder" : "this is no regular file",
                 fs::is_directory(status) ? "name a file in it: " + (path / "records.db").string()
                                          : "name another file with --store");
}

}  // namespace

std::unique_ptr<Store> open_file_store(const std::filesystem::path& path, const FileOptions& options) {
  std::error_code error;
  require_file(path);
  if (!options.create && !fs::exists(path, error)) {
    throw Error(ErrorCode::not_found, fmt::format("store {}: there is no such file", path.string()),
                "run a sequence first, or name the store with --store");
  }
  if (options.create && path.has_parent_path()) {
    fs::create_directories(path.parent_path(), error);
    if (error) {
      throw bad_file(path.string(), fmt::format("its folder cannot be made: {}", error.message()),
                     "name a file in a folder that you may write to");
    }
  }
  try {
    const int flags = SQLite::OPEN_READWRITE | (options.create ? SQLite::OPEN_CREATE : 0);
    if (!options.create && !is_writable(path)) return open_unwritable(path.string(), options);
    return std::make_unique<SqliteStore>(path.string(), path.string(), flags, options);
  } catch (const SQLite::Exception& e) {
    throw error_of(ErrorCode::bad_input, path.string(), "opening", e);
  }
}

}  // namespace eyelevel::record
