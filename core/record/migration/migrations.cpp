// SPDX-License-Identifier: Apache-2.0
#include "core/record/migration/migrations.hpp"

#include "core/record/migration/0001_runs.hpp"
#include "core/record/migration/0002_proofs.hpp"
#include "core/record/migration/0003_jobs.hpp"
#include "core/record/migration/0004_shared.hpp"
#include "core/record/migration/0005_books.hpp"
#include "core/record/migration/0006_readings.hpp"
#include "core/record/migration/0007_thinned.hpp"
#include "core/record/migration/postgres_0001_shared.hpp"
#include "core/record/migration/postgres_0002_books.hpp"
#include "core/record/migration/postgres_0003_readings.hpp"
#include "core/record/migration/postgres_0004_thinned.hpp"

namespace eyelevel::record {

std::span<const char* const> migrations() {
  static constexpr const char* list[] = {migration_0001_runs,   migration_0002_proofs, migration_0003_jobs,
                                         migration_0004_shared, migration_0005_books,  migration_0006_readings,
                                         migration_0007_thinned};
  return list;
}

std::span<const char* const> postgres_migrations() {
  static constexpr const char* list[] = {postgres_migration_0001_shared, postgres_migration_0002_books,
                                         postgres_migration_0003_readings, postgres_migration_0004_thinned};
  return list;
}

}  // namespace eyelevel::record
