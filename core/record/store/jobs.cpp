// SPDX-License-Identifier: Apache-2.0
// The rules of jobs, once for every database (jobs_database.hpp).
#include "core/record/store/jobs.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <boost/json.hpp>
#include <mutex>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/jobs_database.hpp"

namespace eyelevel::record {
namespace {

using base::Error;
using base::ErrorCode;
using Sql = JobsDatabase::Sql;
namespace json = boost::json;

constexpr std::array<std::pair<JobState, std::string_view>, 6> names = {{{JobState::waiting, "waiting"},
                                                                         {JobState::under_way, "under way"},
                                                                         {JobState::interrupted, "interrupted"},
                                                                         {JobState::done, "done"},
                                                                         {JobState::withdrawn, "withdrawn"},
                                                                         {JobState::refused, "refused"}}};

constexpr std::string_view columns =
    "SELECT id, bench, sequence, serial, model, given, priority, asked_by, asked_utc, state, run, goes_on_from, why, "
    "for_any, owner FROM job ";

constexpr std::string_view silent =
    "its daemon went silent in the middle of the run; nobody has looked at its instruments since";

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

Job job_from(const Row& row) {
  Job job;
  job.id = std::stoll(row.at(0));
  job.bench = row.at(1);
  job.sequence = row.at(2);
  job.serial = row.at(3);
  job.model = row.at(4);
  job.given = given_from(row.at(5), job.id);
  job.priority = std::stoll(row.at(6));
  job.asked_by = row.at(7);
  job.asked = utc_from_text(row.at(8));
  job.state = job_state(row.at(9)).value_or(JobState::refused);
  job.run = row.at(10);
  job.goes_on_from = row.at(11);
  job.why = row.at(12);
  job.for_any = row.at(13) != "0";
  job.owner = row.at(14);
  return job;
}

class SqlJobs final : public Jobs {
 public:
  SqlJobs(std::unique_ptr<JobsDatabase> database, std::string owner)
      : database_(std::move(database)), owner_(std::move(owner)) {}

  const std::string& owner() const override { return owner_; }

  std::int64_t add(const Job& job) override {
    return done("adding a job", [&](const Sql& sql) {
      const auto rows =
          sql({"INSERT INTO job (bench, sequence, serial, model, given, priority, asked_by, asked_utc, state, "
               "goes_on_from, "
               "for_any) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, 'waiting', $9, $10) RETURNING id",
               {kept_text(job.bench), kept_text(job.sequence), kept_text(job.serial), kept_text(job.model),
                given_text(job.given), std::to_string(job.priority), kept_text(job.asked_by), utc_text(job.asked),
                kept_text(job.goes_on_from), job.bench.empty() ? "1" : "0"}});
      tell(sql);
      return std::stoll(rows.at(0).at(0));
    });
  }

  std::optional<Job> take(std::string_view bench, const Fits& fits, const Lease& lease) override {
    const std::string name = kept_text(bench);
    return done("taking a job", [&](const Sql& sql) -> std::optional<Job> {
      auto job = first(
          sql({std::string(columns) + "WHERE state = 'under way' AND bench = $1 AND owner = $2 ORDER BY id LIMIT 1",
               {name, owner_}}));
      if (!job) job = next_that_fits(sql, name, fits);
      if (!job) return std::nullopt;
      sql({fmt::format("UPDATE job SET state = 'under way', bench = $1, owner = $2, until_ms = {} WHERE id = $3",
                       end_of(lease)),
           {name, owner_, std::to_string(job->id)}});
      job->state = JobState::under_way;
      job->bench = name;
      job->owner = owner_;
      return job;
    });
  }

  bool give_run(std::int64_t id, std::string_view run) override {
    return done("giving a job its run", [&](const Sql& sql) {
      return is_changed(sql, id,
                        {"UPDATE job SET run = $1 WHERE id = $2 AND state = 'under way' AND owner = $3 RETURNING id",
                         {std::string(run), std::to_string(id), owner_}});
    });
  }

  bool put(std::int64_t id, JobState state, std::string_view why) override {
    return done("putting down what became of a job", [&](const Sql& sql) {
      // One that waits again keeps nothing of who had it.
      const std::string as_it_was =
          state == JobState::waiting ? ", run = '', bench = CASE for_any WHEN 0 THEN bench ELSE '' END" : "";
      if (state == JobState::waiting) tell(sql);
      return is_changed(
          sql, id,
          {"UPDATE job SET state = $1, why = $2, owner = '', until_ms = 0" + as_it_was +
               " WHERE id = $3 AND (state = 'interrupted' OR (state = 'under way' AND owner = $4)) RETURNING id",
           {std::string(record::name_of(state)), kept_text(why), std::to_string(id), owner_}});
    });
  }

  bool withdraw(std::int64_t id) override {
    return done("withdrawing a job", [&](const Sql& sql) {
      return !sql({"UPDATE job SET state = 'withdrawn' WHERE id = $1 AND state = 'waiting' RETURNING id",
                   {std::to_string(id)}})
                  .empty();
    });
  }

  bool set_priority(std::int64_t id, std::int64_t priority) override {
    return done("moving a job", [&](const Sql& sql) {
      return !sql({"UPDATE job SET priority = $1 WHERE id = $2 AND state = 'waiting' RETURNING id",
                   {std::to_string(priority), std::to_string(id)}})
                  .empty();
    });
  }

  void renew(const Lease& lease) override {
    done("renewing the lease of jobs", [&](const Sql& sql) {
      sql({fmt::format("UPDATE job SET until_ms = {} WHERE state = 'under way' AND owner = $1", end_of(lease)),
           {owner_}});
      return true;
    });
  }

  std::size_t give_back(base::UtcTime now) override {
    return done("giving back jobs of silent daemons", [&](const Sql& sql) {
      const auto over =
          sql({fmt::format("SELECT id, run, bench FROM job WHERE state = 'under way' AND until_ms < {} ORDER BY id{}",
                           database_->now_ms(now), database_->passing_over_locked()),
               {}});
      for (const Row& row : over) give_back(sql, row.at(0), row.at(1), row.at(2));
      if (!over.empty()) tell(sql);
      return over.size();
    });
  }

  bool is_left(std::string_view bench) override {
    return done("asking for a bench", [&](const Sql& sql) {
      return !sql({"SELECT bench FROM left_bench WHERE bench = $1", {kept_text(bench)}}).empty();
    });
  }

  void put_safe(std::string_view bench, std::string_view why) override {
    done("putting down that a bench is safe", [&](const Sql& sql) {
      sql({"DELETE FROM left_bench WHERE bench = $1", {kept_text(bench)}});
      sql({"UPDATE job SET why = $1 WHERE bench = $2 AND state = 'interrupted' AND why = $3",
           {kept_text(why), kept_text(bench), std::string(silent)}});
      return true;
    });
  }

  bool heard() override {
    const std::scoped_lock lock(mutex_);
    return database_->heard();
  }

  Job find(std::int64_t id) override {
    return done("looking for a job", [&](const Sql& sql) { return find(sql, id); });
  }

  std::vector<Job> list(const JobQuery& query) override {
    return done("listing jobs", [&](const Sql& sql) {
      std::vector<Job> jobs;
      for (const Query& part : jobs_queries(query))
        for (const Row& row : sql(part))
          if (jobs.size() < query.at_most) jobs.push_back(job_from(row));
      return jobs;
    });
  }

  std::vector<JobCount> counts() override {
    return done("counting jobs", [&](const Sql& sql) {
      std::vector<JobCount> list;
      for (const Row& row : sql({job_counts_query, {}}))
        list.push_back({row.at(0), job_state(row.at(1)).value_or(JobState::waiting), std::stoll(row.at(2))});
      return list;
    });
  }

 private:
  static std::optional<Job> first(const std::vector<Row>& rows) {
    if (rows.empty()) return std::nullopt;
    return job_from(rows.front());
  }

  std::optional<Job> next_that_fits(const Sql& sql, const std::string& bench, const Fits& fits) const {
    std::vector<std::int64_t> unfit;
    for (;;) {
      Query query = next_job_query(bench, unfit);
      query.sql += database_->passing_over_locked();
      auto job = first(sql(query));
      if (!job || !job->bench.empty() || fits(*job)) return job;
      unfit.push_back(job->id);
    }
  }

  // A run of which nothing was told is withdrawn with the job: what is written for it from now on is refused, since it
  // belongs to no run.
  static void give_back(const Sql& sql, const std::string& id, const std::string& run, const std::string& bench) {
    const bool has_begun = !run.empty() &&
                           sql({"DELETE FROM run WHERE id = $1 AND begun_utc = '' RETURNING id", {run}}).empty() &&
                           !sql({"SELECT id FROM run WHERE id = $1", {run}}).empty();
    const bool is_closed = has_begun && !sql({"SELECT id FROM run WHERE id = $1 AND ended <> ''", {run}}).empty();
    if (!has_begun)
      sql(
          {"UPDATE job SET state = 'waiting', run = '', owner = '', until_ms = 0, bench = CASE for_any WHEN 0 THEN "
           "bench ELSE '' "
           "END WHERE id = $1",
           {id}});
    else
      sql({"UPDATE job SET state = $1, why = $2, owner = '', until_ms = 0 WHERE id = $3",
           {is_closed ? "done" : "interrupted", is_closed ? "" : std::string(silent), id}});
    if (!is_closed) sql({"INSERT INTO left_bench (bench) VALUES ($1) ON CONFLICT DO NOTHING", {bench}});
  }

  Job find(const Sql& sql, std::int64_t id) const {
    if (auto job = first(sql({std::string(columns) + "WHERE id = $1", {std::to_string(id)}}))) return *job;
    throw Error(ErrorCode::not_found, fmt::format("store {}: there is no job {}", database_->name(), id),
                "list the jobs");
  }

  bool is_changed(const Sql& sql, std::int64_t id, const Query& change) const {
    if (!sql(change).empty()) return true;
    find(sql, id);
    return false;
  }

  void tell(const Sql& sql) const {
    if (const auto telling = database_->telling(); !telling.empty()) sql({telling, {}});
  }

  std::string end_of(const Lease& lease) const {
    return fmt::format("{} + {}", database_->now_ms(lease.now), lease.length.count());
  }

  template <class Work>
  auto done(const std::string& attempted, Work work) -> decltype(work(std::declval<const Sql&>())) {
    const std::scoped_lock lock(mutex_);
    std::optional<decltype(work(std::declval<const Sql&>()))> result;
    database_->transact(attempted, [&](const Sql& sql) { result.emplace(work(sql)); });
    return std::move(*result);
  }

  std::mutex mutex_;
  std::unique_ptr<JobsDatabase> database_;
  std::string owner_;
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

std::vector<Query> jobs_queries(const JobQuery& query) {
  const auto part = [&](const std::string& condition, const char* order) {
    Query one{std::string(columns) + "WHERE ", {}};
    if (query.bench) {
      one.sql += "bench = $1 AND ";
      one.values.push_back(kept_text(*query.bench));
    }
    one.sql += fmt::format("{} ORDER BY {} LIMIT {}", condition, order, std::min<std::size_t>(query.at_most, 1U << 30));
    return one;
  };
  if (query.state)
    return {part(fmt::format("state = '{}'", name_of(*query.state)),
                 *query.state == JobState::waiting ? "priority DESC, id" : "id DESC")};
  return {part("state = 'interrupted'", "id DESC"), part("state = 'under way'", "id DESC"),
          part("state = 'waiting'", "priority DESC, id"), part("state IN ('done', 'withdrawn', 'refused')", "id DESC")};
}

Query next_job_query(const std::string& bench, const std::vector<std::int64_t>& unfit) {
  const std::string but = unfit.empty() ? "" : fmt::format(" AND id NOT IN ({})", fmt::join(unfit, ", "));
  return {
      fmt::format("{}WHERE state = 'waiting' AND bench IN ($1, ''){} ORDER BY priority DESC, id LIMIT 1", columns, but),
      {bench}};
}

std::unique_ptr<Jobs> open_jobs(const std::string& store, const std::string& owner) {
  return std::make_unique<SqlJobs>(is_database(store) ? postgres_jobs(store) : sqlite_jobs(store), owner);
}

}  // namespace eyelevel::record
