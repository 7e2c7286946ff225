// SPDX-License-Identifier: Apache-2.0
// The store in one SQLite file: WAL with synchronous=FULL, so that a commit that returned survives a kill and a power
// cut. After a failed commit the connection is not trusted with another (a second fsync may report success for pages
// that were lost): the store says "not recording" until it is opened anew.
#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include <mutex>
#include <system_error>

#include "core/base/error.hpp"
#include "core/record/journal/chunks.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/migration/migrations.hpp"
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

std::optional<metrology::Judgement> judgement_from(const std::string& word) {
  for (const auto j : {metrology::Judgement::pass, metrology::Judgement::fail, metrology::Judgement::undecided}) {
    if (name_of(j) == word) return j;
  }
  return std::nullopt;
}

constexpr const char* summary_columns =
    "SELECT id, begun_utc, closed_utc, sequence, serial, model, bench, ended, judgement, program, proves "
    "FROM run ";

RunSummary summary_from(Statement& row) {
  RunSummary s;
  s.id = row.getColumn(0).getString();
  s.begun = utc_from_text(row.getColumn(1).getString());
  if (!row.getColumn(2).isNull()) s.closed = utc_from_text(row.getColumn(2).getString());
  s.sequence = row.getColumn(3).getString();
  s.serial = row.getColumn(4).getString();
  s.model = row.getColumn(5).getString();
  s.bench = row.getColumn(6).getString();
  s.ended = row.getColumn(7).getString();
  s.judgement = judgement_from(row.getColumn(8).getString());
  s.program = row.getColumn(9).getString();
  s.proves = row.getColumn(10).getString();
  return s;
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
      Statement last(db_, "SELECT COALESCE(MAX(number), 0) FROM run WHERE day = ?");
      last.bind(1, day);
      last.executeStep();
      const std::int64_t number = last.getColumn(0).getInt64() + 1;
      std::string id = run_name(day, number);
      Statement insert(db_, "INSERT INTO run (id, day, number) VALUES (?, ?, ?)");
      insert.bind(1, id);
      insert.bind(2, day);
      insert.bind(3, number);
      insert.exec();
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
    const auto event = whole_event(run, event_number);
    const auto* captured = event ? std::get_if<event::Captured>(&event->body) : nullptr;
    if (captured != nullptr && captured->waveform) return captured->waveform;
    throw Error(ErrorCode::not_found, fmt::format("run {}: event {} holds no samples", run, event_number));
  }

  std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t event_number) override {
    const auto event = whole_event(run, event_number);
    const auto* enclosed = event ? std::get_if<event::Enclosed>(&event->body) : nullptr;
    if (enclosed != nullptr && enclosed->content) return enclosed->content;
    throw Error(ErrorCode::not_found, fmt::format("run {}: event {} encloses nothing", run, event_number));
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

  std::optional<event::Event> whole_event(std::string_view run, std::int64_t event_number) {
    const std::scoped_lock lock(mutex_);
    return read([&]() -> std::optional<event::Event> {
      find(run);
      Statement row(db_, "SELECT body FROM event WHERE run = ? AND number = ?");
      row.bind(1, std::string(run));
      row.bind(2, event_number);
      if (!row.executeStep()) return std::nullopt;
      return event_from(row.getColumn(0).getString(), run, Samples::all);
    });
  }

  void insert(const std::string& run, const event::Event& event) {
    Statement row(db_, "INSERT INTO event (run, number, body) VALUES (?, ?, ?)");
    row.bind(1, run);
    row.bind(2, event.number);
    row.bind(3, text_of(to_json(event)));
    row.exec();
    if (const auto* captured = std::get_if<event::Captured>(&event.body); captured != nullptr && captured->waveform) {
      insert_chunks(run, event.number, pack(captured->waveform->codes));
    }
    if (const auto* enclosed = std::get_if<event::Enclosed>(&event.body); enclosed != nullptr && enclosed->content) {
      insert_chunks(run, event.number, pack(std::as_bytes(std::span(*enclosed->content))));
    }
    if (std::holds_alternative<event::Begun>(event.body)) {
      RunSummary s;
      take_into(s, event);
      Statement update(db_,
                       "UPDATE run SET begun_utc=?, sequence=?, serial=?, model=?, bench=?, program=?, proves=? "
                       "WHERE id=?");
      int at = 0;
      for (const std::string& value :
           {utc_text(s.begun), s.sequence, s.serial, s.model, s.bench, s.program, s.proves, run}) {
        update.bind(++at, clean_utf8(value));
      }
      update.exec();
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
      row.bind(4, chunk.data(), static_cast<int>(chunk.size()));
      row.exec();
    }
  }

  event::Event event_from(const std::string& text, std::string_view run, Samples samples) {
    const auto json = parse_json(text, fmt::format("an event of run {}", run));
    if (!json.is_object()) throw bad_file(path_, "it is damaged: an event is no mapping", "restore it from a backup");
    event::Event event = event_from_json(json.get_object());
    auto* captured = std::get_if<event::Captured>(&event.body);
    if (samples == Samples::all && captured != nullptr && captured->waveform) {
      signal::Waveform waveform = *captured->waveform;
      const SampleCount count = samples_of(json.get_object());
      waveform.codes = unpack(count.type, count.samples, chunks(run, event.number));
      captured->waveform = std::make_shared<const signal::Waveform>(std::move(waveform));
    }
    if (auto* enclosed = std::get_if<event::Enclosed>(&event.body); samples == Samples::all && enclosed != nullptr) {
      const auto size_bytes = static_cast<std::uint64_t>(std::max<std::int64_t>(enclosed->size_bytes, 0));
      enclosed->content = std::make_shared<const std::string>(unpack_bytes(size_bytes, chunks(run, event.number)));
    }
    return event;
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
    Statement row(db_, std::string(summary_columns) +
                           "WHERE begun_utc <> '' AND (?1 IS NULL OR serial = ?1) AND (?2 IS NULL OR sequence = ?2) "
                           "AND (?4 IS NULL OR bench = ?4) AND (?5 IS NULL OR proves = ?5) "
                           "ORDER BY begun_utc DESC, day DESC, number DESC LIMIT ?3");
    if (query.serial) row.bind(1, *query.serial);
    if (query.sequence) row.bind(2, *query.sequence);
    if (query.bench) row.bind(4, *query.bench);
    if (query.proves) row.bind(5, *query.proves);
    row.bind(3, static_cast<std::int64_t>(std::min<std::size_t>(query.at_most, 1U << 30)));
    std::vector<RunSummary> found;
    while (row.executeStep()) found.push_back(summary_from(row));
    return found;
  }

  RunSummary find(std::string_view id) {
    Statement row(db_, std::string(summary_columns) + "WHERE id = ? AND begun_utc <> ''");
    row.bind(1, std::string(id));
    if (row.executeStep()) return summary_from(row);
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
  if (path.string().find("://") != std::string::npos)
    throw bad_file(path.string(), "this version keeps its record in a file, not on a database server",
                   "name a file with --store");
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
