// SPDX-License-Identifier: Apache-2.0
// Jobs in the SQLite file of the store, over a connection of their own.
#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>

#include <array>
#include <boost/json.hpp>
#include <mutex>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/jobs.hpp"
#include "core/record/store/sqlite_error.hpp"

namespace eyelevel::record {
namespace {

using base::Error;
using base::ErrorCode;
using SQLite::Statement;
namespace json = boost::json;

constexpr std::array<std::pair<JobState, std::string_view>, 6> names = {{{JobState::waiting, "waiting"},
                                                                         {JobState::under_way, "under way"},
                                                                         {JobState::interrupted, "interrupted"},
                                                                         {JobState::done, "done"},
                                                                         {JobState::withdrawn, "withdrawn"},
                                                                         {JobState::refused, "refused"}}};

constexpr const char* columns =
    "SELECT id, bench, sequence, serial, model, given, priority, asked_by, asked_utc, state, run, goes_on_from, why "
    "FROM job ";

std::string given_text(const std::vector<event::GivenAtStart>& given) {
  json::array list;
  for (const auto& one : given) list.push_back(json::object{{"name", one.name}, {"value", one.value}});
  return text_of(list);
}

std::vector<event::GivenAtStart> given_from(const std::string& text, std::int64_t id) {
  std::vector<event::GivenAtStart> given;
  const json::value list = parse_json(text, fmt::format("job {}", id));
  for (const auto& one : list.as_array())
    given.push_back({std::string(one.at("name").as_string()), std::string(one.at("value").as_string())});
  return given;
}

Job job_from(Statement& row) {
  Job job;
  job.id = row.getColumn(0).getInt64();
  job.bench = row.getColumn(1).getString();
  job.sequence = row.getColumn(2).getString();
  job.serial = row.getColumn(3).getString();
  job.model = row.getColumn(4).getString();
  job.given = given_from(row.getColumn(5).getString(), job.id);
  job.priority = row.getColumn(6).getInt64();
  job.asked_by = row.getColumn(7).getString();
  job.asked = utc_from_text(row.getColumn(8).getString());
  job.state = job_state(row.getColumn(9).getString()).value_or(JobState::refused);
  job.run = row.getColumn(10).getString();
  job.goes_on_from = row.getColumn(11).getString();
  job.why = row.getColumn(12).getString();
  return job;
}

class SqliteJobs final : public Jobs {
 public:
  explicit SqliteJobs(const std::string& path) : path_(path), db_(path, SQLite::OPEN_READWRITE, busy_wait_ms) {
    db_.exec("PRAGMA synchronous=FULL");
  }

  std::int64_t add(const Job& job) override {
    return done("adding a job", [&] {
      Statement row(db_,
                    "INSERT INTO job (bench, sequence, serial, model, given, priority, asked_by, asked_utc, state, "
                    "goes_on_from) VALUES (?, ?, ?, ?, ?, ?, ?, ?, 'waiting', ?)");
      int at = 0;
      for (const std::string& text : {job.bench, job.sequence, job.serial, job.model, given_text(job.given)})
        row.bind(++at, clean_utf8(text));
      row.bind(++at, job.priority);
      row.bind(++at, clean_utf8(job.asked_by));
      row.bind(++at, utc_text(job.asked));
      row.bind(++at, clean_utf8(job.goes_on_from));
      row.exec();
      return db_.getLastInsertRowid();
    });
  }

  std::optional<Job> take(std::string_view bench) override {
    return done("taking a job", [&]() -> std::optional<Job> {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      std::optional<Job> job;
      {
        Statement next(
            db_, std::string(columns) + "WHERE bench = ? AND state = 'waiting' ORDER BY priority DESC, id LIMIT 1");
        next.bind(1, std::string(bench));
        if (!next.executeStep()) return std::nullopt;
        job = job_from(next);
      }
      Statement taken(db_, "UPDATE job SET state = 'under way' WHERE id = ?");
      taken.bind(1, job->id);
      taken.exec();
      transaction.commit();
      job->state = JobState::under_way;
      return job;
    });
  }

  void give_run(std::int64_t id, std::string_view run) override {
    done("giving a job its run", [&] {
      Statement row(db_, "UPDATE job SET run = ? WHERE id = ?");
      row.bind(1, std::string(run));
      row.bind(2, id);
      require_one(row.exec(), id);
      return true;
    });
  }

  void put(std::int64_t id, JobState state, std::string_view why) override {
    done("putting down what became of a job", [&] {
      Statement row(db_, "UPDATE job SET state = ?, why = ? WHERE id = ?");
      row.bind(1, std::string(record::name_of(state)));
      row.bind(2, clean_utf8(why));
      row.bind(3, id);
      require_one(row.exec(), id);
      return true;
    });
  }

  bool withdraw(std::int64_t id) override {
    return done("withdrawing a job", [&] {
      Statement row(db_, "UPDATE job SET state = 'withdrawn' WHERE id = ? AND state = 'waiting'");
      row.bind(1, id);
      return row.exec() == 1;
    });
  }

  bool set_priority(std::int64_t id, std::int64_t priority) override {
    return done("moving a job", [&] {
      Statement row(db_, "UPDATE job SET priority = ? WHERE id = ? AND state = 'waiting'");
      row.bind(1, priority);
      row.bind(2, id);
      return row.exec() == 1;
    });
  }

  Job find(std::int64_t id) override {
    return done("looking for a job", [&] {
      Statement row(db_, std::string(columns) + "WHERE id = ?");
      row.bind(1, id);
      if (!row.executeStep()) unknown(id);
      return job_from(row);
    });
  }

  std::vector<Job> list(const JobQuery& query) override {
    return done("listing jobs", [&] {
      Statement row(db_,
                    std::string(columns) +
                        "WHERE (?1 IS NULL OR bench = ?1) AND (?2 IS NULL OR state = ?2) "
                        "ORDER BY CASE state WHEN 'interrupted' THEN 0 WHEN 'under way' THEN 1 WHEN 'waiting' THEN 2 "
                        "ELSE 3 END, CASE state WHEN 'waiting' THEN -priority ELSE 0 END, "
                        "CASE state WHEN 'waiting' THEN id ELSE -id END LIMIT ?3");
      if (query.bench) row.bind(1, *query.bench);
      if (query.state) row.bind(2, std::string(record::name_of(*query.state)));
      row.bind(3, static_cast<std::int64_t>(std::min<std::size_t>(query.at_most, 1U << 30)));
      std::vector<Job> jobs;
      while (row.executeStep()) jobs.push_back(job_from(row));
      return jobs;
    });
  }

  std::vector<JobCount> counts() override {
    return done("counting jobs", [&] {
      Statement row(db_,
                    "SELECT bench, state, COUNT(*) FROM job WHERE state IN ('waiting', 'under way', 'interrupted') "
                    "GROUP BY bench, state");
      std::vector<JobCount> list;
      while (row.executeStep())
        list.push_back({row.getColumn(0).getString(),
                        job_state(row.getColumn(1).getString()).value_or(JobState::waiting),
                        row.getColumn(2).getInt64()});
      return list;
    });
  }

 private:
  static constexpr int busy_wait_ms = 5000;

  [[noreturn]] void unknown(std::int64_t id) const {
    throw Error(ErrorCode::not_found, fmt::format("store {}: there is no job {}", path_, id), "list the jobs");
  }
  void require_one(int changed, std::int64_t id) const {
    if (changed != 1) unknown(id);
  }

  template <class Work>
  auto done(const std::string& attempted, Work work) -> decltype(work()) {
    const std::scoped_lock lock(mutex_);
    try {
      return work();
    } catch (const SQLite::Exception& e) {
      throw error_of(ErrorCode::not_recording, path_, attempted, e);
    }
  }

  std::string path_;
  std::mutex mutex_;
  SQLite::Database db_;
};

}  // namespace

std::string_view name_of(JobState state) {
  for (const auto& [value, name] : names)
    if (value == state) return name;
  return "refused";
}

std::optional<JobState> job_state(std::string_view name) {
  for (const auto& [value, known] : names)
    if (known == name) return value;
  return std::nullopt;
}

std::unique_ptr<Jobs> open_jobs(const std::filesystem::path& store) {
  try {
    return std::make_unique<SqliteJobs>(store.string());
  } catch (const SQLite::Exception& e) {
    throw error_of(ErrorCode::bad_input, store.string(), "opening its jobs", e);
  }
}

}  // namespace eyelevel::record
