// SPDX-License-Identifier: Apache-2.0
#include "core/record/migration/migrations.hpp"

#include "core/record/migration/0001_runs.hpp"
#include "core/record/migration/0002_proofs.hpp"

namespace eyelevel::record {

std::span<const char* const> migrations() {
  static constexpr const char* list[] = {migration_0001_runs, migration_0002_proofs};
  return list;
}

}  // namespace eyelevel::record
