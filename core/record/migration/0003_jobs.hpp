// SPDX-License-Identifier: Apache-2.0
// Jobs of the daemon (store/jobs.hpp). Never edited once released: see migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* migration_0003_jobs = R"sql(
CREATE TABLE job (
  id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  bench TEXT NOT NULL,
  sequence TEXT NOT NULL,
  serial TEXT NOT NULL,
  model TEXT NOT NULL,
  given TEXT NOT NULL,
  priority INTEGER NOT NULL,
  asked_by TEXT NOT NULL,
  asked_utc TEXT NOT NULL,
  state TEXT NOT NULL,
  run TEXT NOT NULL DEFAULT '',
  goes_on_from TEXT NOT NULL DEFAULT '',
  why TEXT NOT NULL DEFAULT ''
);
CREATE INDEX job_waiting ON job (bench, priority DESC, id) WHERE state = 'waiting';
CREATE INDEX job_by_state ON job (state, id);
)sql";

}  // namespace eyelevel::record
