// SPDX-License-Identifier: Apache-2.0
#include "core/record/migration/migrations.hpp"

#include "core/record/migration/0001_runs.hpp"
#include "core/record/migration/0002_proofs.hpp"
#include "core/record/migration/0003_jobs.hpp"

namespace eyelevel::record {

std::span<const char* const> migrations() {
  static constexpr const char* list[] = {migration_0001_runs, migration_0002_proofs, migration_0003_jobs};
  return list;
}

}  // namespace eyelevel::record
