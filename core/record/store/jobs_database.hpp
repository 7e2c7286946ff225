// SPDX-License-Identifier: Apache-2.0
// What SqlJobs (jobs.cpp) needs of a database: one transaction at a time, statements in the SQL that both understand,
// and the few words that they say differently.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/record/store/jobs.hpp"
#include "core/record/store/rows.hpp"

namespace eyelevel::record {

using Row = std::vector<std::string>;

class JobsDatabase {
 public:
  // Rows that a statement gives; one that changes rows gives those it names after RETURNING.
  using Sql = std::function<std::vector<Row>(const Query&)>;

  JobsDatabase() = default;
  JobsDatabase(const JobsDatabase&) = delete;
  JobsDatabase& operator=(const JobsDatabase&) = delete;
  virtual ~JobsDatabase() = default;

  // Throws Error(not_recording) or Error(no_connection); what `work` throws goes through, with nothing changed.
  virtual void transact(const std::string& attempted, const std::function<void(const Sql&)>& work) = 0;
  // An expression: milliseconds since 1970, by the clock that decides here.
  virtual std::string now_ms(base::UtcTime now) const = 0;
  // After a SELECT of rows that are to be changed: those that another daemon changes just now are passed over.
  virtual std::string passing_over_locked() const = 0;
  // Statement that tells other daemons of a new job; empty where there is no way.
  virtual std::string telling() const = 0;
  // Whether one told.
  virtual bool heard() = 0;
  virtual std::string name() const = 0;
};

std::unique_ptr<JobsDatabase> sqlite_jobs(const std::string& path);
std::unique_ptr<JobsDatabase> postgres_jobs(const std::string& where);

// The listings, in the order in which jobs.hpp promises them. Each can use an index.
std::vector<Query> jobs_queries(const JobQuery& query);
Query next_job_query(const std::string& bench, const std::vector<std::int64_t>& unfit);
inline constexpr const char* job_counts_query =
    "SELECT bench, state, COUNT(*) FROM job WHERE state IN ('waiting', 'under way', 'interrupted') GROUP BY bench, "
    "state";

}  // namespace eyelevel::record
