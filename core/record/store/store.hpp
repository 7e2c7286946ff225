// SPDX-License-Identifier: Apache-2.0
// Where runs are kept: the seam behind which SQL lives. A store keeps the events of each run in order, samples
// included, and gives them back: a file (SQLite), a database server (PostgreSQL), or memory (rehearsals). All calls
// block; the journal makes them on the store thread when `works_inline` is false. Safe from any thread, one call at a
// time. Whoever implements it: write() is all or nothing, and when it returns the events survive a kill or a power cut.
// After a write failed, every later one fails with the same Error(not_recording); nothing is tried twice.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/event/event.hpp"
#include "core/record/books/entry.hpp"

namespace eyelevel::record {

struct RunSummary {
  std::string id;
  base::UtcTime begun{};
  std::optional<base::UtcTime> closed;
  std::string sequence;
  std::string serial;
  std::string model;
  std::string bench;
  std::string ended;  // "finished" or "stopped"; empty: not closed, so still running or broken off from outside
  std::optional<metrology::Judgement> judgement;
  std::string program;             // what wrote it, with its version
  std::string proves;              // "bench": it is a proof of its bench
  std::string operator_name = {};  // the first who answered a prompt
};

struct RunQuery {
  std::optional<std::string> id;
  std::optional<std::string> serial;
  std::optional<std::string> sequence;
  std::optional<std::string> bench;
  std::optional<std::string> proves;
  std::optional<std::string> model;
  std::optional<std::string> operator_name;
  std::optional<metrology::Judgement> judgement;
  std::optional<base::UtcTime> from;   // begun then or later
  std::optional<base::UtcTime> until;  // begun before
  bool is_to_thin_out = false;         // only those that are closed and were never looked at for thinning out
  std::size_t at_most = 1000;
};

// One reading, beside its run: what statistics over many runs want, without opening their events. As it was recorded;
// corrections stand in the books.
struct ReadingRow {
  std::string run;
  std::int64_t number = 0;  // of the event that measured it
  std::string name;
  double value = 0;  // finite; readings that are not are only in the events
  std::string unit;
  double standard_uncertainty = 0;
  double expanded_uncertainty = 0;
  std::optional<metrology::Limit> limit;
  std::optional<metrology::Judgement> judgement;
  base::UtcTime begun{};  // of the run, as are those below
  std::string sequence;
  std::string serial;
  std::string model;
  std::string bench;
  std::string operator_name;
};

struct ReadingQuery {
  std::optional<std::string> run{};
  std::optional<std::string> name{};
  std::optional<std::string> model{};
  std::optional<std::string> serial{};
  std::optional<std::string> bench{};
  std::optional<std::string> operator_name{};
  std::optional<base::UtcTime> since{};  // runs begun then or later
  std::optional<base::UtcTime> until{};  // runs begun before
  std::size_t at_most = 1000;
};

// How many closed runs of one kind there were in a day, proofs of a bench left out.
struct Tally {
  std::string day;  // "2030-01-07", of the run's name
  std::string model;
  std::string bench;
  std::string operator_name;
  std::string sequence;
  std::optional<metrology::Judgement> judgement;
  std::int64_t runs = 0;
};

struct TallyQuery {
  std::optional<std::string> since_day{};  // that day or later
  std::optional<std::string> until_day{};  // that day or earlier
};

enum class Samples { none, all };

// An event as it is kept: journal/event_json.hpp on one line.
struct EventText {
  std::int64_t number = 0;
  std::string text;
};

class Store {
 public:
  Store() = default;
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;
  virtual ~Store() = default;

  // A fresh id: the day and a number, "2030-01-07-3". Kept for the caller; a run without events is never listed.
  virtual std::string reserve_run(base::UtcTime now) = 0;
  // One transaction. Events of one run, in order, from reserve_run's id. Throws Error(not_recording).
  virtual void write(std::string_view run, std::span<const event::Event> events) = 0;

  // Takes in events of a run that another store named, in order, beginning with its first; those that are here already
  // are passed over, so that it may be done again. `program` is what wrote them, RunSummary::program; empty: this one.
  // All or nothing. Throws Error(bad_input) when the run of that name is another one here, Error(not_recording).
  virtual void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) = 0;
  // Forgets a run that is kept elsewhere, and writes into the books what is said of that. Its name is not given again.
  // False: there was none, and nothing was written. All or nothing. Throws Error(not_recording).
  virtual bool drop(std::string_view run, std::span<const BookEntry> said) = 0;
  // Takes the samples of these captures (numbers of their events) out of a closed run for good, and writes into the
  // books what is said of that; its events stay as they are, and it counts as looked at. False: it is not there, not
  // closed, or was looked at before; nothing was changed. All or nothing. Throws Error(not_recording).
  virtual bool thin_out(std::string_view run, std::span<const std::int64_t> captures,
                        std::span<const BookEntry> said) = 0;

  // Newest first.
  virtual std::vector<RunSummary> runs(const RunQuery& query) = 0;
  // Throws Error(not_found) naming the nearest id.
  virtual RunSummary run(std::string_view id) = 0;
  // In order. With Samples::none, and where they were thinned out, a capture's waveform may have its scale only; an
  // enclosure then has no content.
  virtual std::vector<event::Event> events(std::string_view run, Samples samples) = 0;
  // Those after the event of that number (0: all), in order.
  virtual std::vector<EventText> event_texts(std::string_view run, std::int64_t after) = 0;
  // The samples of one capture, by the number of its event. Throws Error(not_found) when that event holds none,
  // or they were thinned out.
  virtual std::shared_ptr<const signal::Waveform> capture(std::string_view run, std::int64_t event_number) = 0;

  // What was enclosed, by the number of its event. Throws Error(not_found) when that event holds nothing.
  virtual std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t event_number) = 0;

  // Adds entries to the books, all or none, each behind all that are there; number and place are given here. Returns
  // them as they are kept. Throws Error(not_recording).
  virtual std::vector<BookEntry> note(std::span<const BookEntry> entries) = 0;
  // Takes in entries of another store where they were placed there; those that are here already, equal in all but the
  // number, are passed over. All or none. Throws Error(not_recording).
  virtual void bring_entries(std::span<const BookEntry> entries) = 0;
  // In the order in which they hold: by place, then number.
  virtual std::vector<BookEntry> book(const BookQuery& query) = 0;

  // Newest run first, in a run the last one measured first. That of a run that goes on from another is counted there.
  virtual std::vector<ReadingRow> readings(const ReadingQuery& query) = 0;
  // By day, model, bench, operator, sequence, judgement (none first), in this order.
  virtual std::vector<Tally> tallies(const TallyQuery& query) = 0;

  // True: calls take no time worth a thread.
  virtual bool works_inline() const = 0;
  // For messages: the path, or "memory".
  virtual std::string name() const = 0;
};

enum class Create { yes, no };  // no: an absent store is Error(not_found)

struct FileOptions {
  bool create = true;  // false: an absent file is Error(not_found)
  int busy_wait_ms = 5000;
  std::optional<std::uint64_t> size_bytes_max{};  // a write beyond it fails as on a full disk
  std::string vfs{};                              // SQLite's name of another file system; for tests
};
// Opens, makes or brings up to date. Throws Error(bad_input) when the file is no store, belongs to another program, is
// damaged, or was written by a newer program.
std::unique_ptr<Store> open_file_store(const std::filesystem::path& path, const FileOptions& options = {});

struct MemoryOptions {
  bool keep_captures = true;  // false: samples are dropped, everything else stays
};
std::unique_ptr<Store> open_memory_store(const MemoryOptions& options = {});

// True for a connection string, postgresql://USER@HOST:PORT/DATABASE or postgres://...
bool is_database(std::string_view where);
// On a PostgreSQL server. The password in it is never shown: name() leaves it out. Throws Error(no_connection) when the
// server cannot be reached, Error(bad_input) as open_file_store does.
std::unique_ptr<Store> open_postgres_store(const std::string& where, Create create = Create::yes);

// ":memory:", a connection string, or a path.
std::unique_ptr<Store> open_store(const std::string& where);

}  // namespace eyelevel::record
