// SPDX-License-Identifier: Apache-2.0
// Jobs on the PostgreSQL server of the store, over a connection of their own. The server's clock decides on leases,
// since the clocks of its daemons need not agree. NOTIFY is a hint only: it is not replayed to who was not connected,
// and its commits wait for each other (PostgreSQL 15 documentation, NOTIFY), so that only a new job is told.
#include "core/base/error.hpp"
#include "core/record/store/jobs_database.hpp"
#include "core/record/store/postgres_link.hpp"

namespace eyelevel::record {
namespace {

using base::ErrorCode;

class PostgresJobs final : public JobsDatabase {
 public:
  explicit PostgresJobs(const std::string& where) : link_(where, "LISTEN eyelevel_job") {}

  void transact(const std::string& attempted, const std::function<void(const Sql&)>& work) override {
    link_.done(ErrorCode::not_recording, attempted, [&](pqxx::work& transaction) {
      work([&transaction](const Query& query) {
        std::vector<Row> list;
        for (const auto& row : rows_of(transaction, query)) list.push_back(texts(row));
        return list;
      });
      return true;
    });
  }

  std::string now_ms(base::UtcTime) const override {
    return "CAST(EXTRACT(EPOCH FROM clock_timestamp()) * 1000 AS bigint)";
  }
  std::string passing_over_locked() const override { return " FOR UPDATE SKIP LOCKED"; }
  std::string telling() const override { return "NOTIFY eyelevel_job"; }
  bool heard() override { return link_.heard(); }
  std::string name() const override { return link_.name(); }

 private:
  PostgresLink link_;
};

}  // namespace

std::unique_ptr<JobsDatabase> postgres_jobs(const std::string& where) { return std::make_unique<PostgresJobs>(where); }

}  // namespace eyelevel::record
