// SPDX-License-Identifier: Apache-2.0
// Where jobs may be kept, each with an empty store beside them.
#pragma once

#include <memory>
#include <string>

#include "core/record/store/jobs.hpp"
#include "core/record/store/store.hpp"
#include "tests/core/record/store_suite.hpp"
#include "tests/support/postgres_schema.hpp"
#include "tests/support/temporary_folder.hpp"

namespace eyelevel::test {

struct InFile {
  TemporaryFolder folder;
  std::string where() const { return (folder / "records.db").string(); }
};

struct OnServer {
  PostgresSchema schema;
  std::string where() const { return schema.url(); }
};

template <class Place>
struct Kept {
  Place place;
  std::unique_ptr<record::Store> store = record::open_store(place.where());
  std::unique_ptr<record::Jobs> jobs = open("this daemon");

  std::unique_ptr<record::Jobs> open(const std::string& owner) const { return record::open_jobs(place.where(), owner); }
  std::int64_t add(const std::string& bench, std::int64_t priority = 0) const {
    record::Job job;
    job.bench = bench;
    job.sequence = "ready/pickup-level.yaml";
    job.priority = priority;
    return jobs->add(job);
  }
};

inline bool any(const record::Job&) { return true; }
inline const record::Lease long_lease{some_day(), std::chrono::hours(1)};
inline const record::Lease over{some_day(), std::chrono::milliseconds(-1000)};  // was never renewed

inline std::optional<record::Job> take(record::Jobs& jobs, std::string_view bench, const record::Fits& fits = any,
                                       const record::Lease& lease = long_lease) {
  return jobs.take(bench, fits, lease);
}

}  // namespace eyelevel::test
