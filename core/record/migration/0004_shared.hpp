// SPDX-License-Identifier: Apache-2.0
// Several daemons on one store: who does a job, and until when that holds unless it is renewed; benches that were left
// in the middle of a job; numbers of runs that are never given twice. And an index for each listing. Never edited once
// released: see migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* migration_0004_shared = R"sql(
CREATE TABLE run_day (day TEXT NOT NULL PRIMARY KEY, last INTEGER NOT NULL);
INSERT INTO run_day (day, last) SELECT day, MAX(number) FROM run GROUP BY day;
DROP INDEX run_by_serial;
CREATE INDEX run_by_serial ON run (serial, begun_utc, day, number);
CREATE INDEX run_by_sequence ON run (sequence, begun_utc, day, number);
CREATE INDEX run_by_bench ON run (bench, begun_utc, day, number);
ALTER TABLE job ADD COLUMN for_any INTEGER NOT NULL DEFAULT 0;
ALTER TABLE job ADD COLUMN owner TEXT NOT NULL DEFAULT '';
ALTER TABLE job ADD COLUMN until_ms INTEGER NOT NULL DEFAULT 0;
CREATE TABLE left_bench (bench TEXT NOT NULL PRIMARY KEY);
CREATE INDEX job_of_bench ON job (bench, state, id);
CREATE INDEX job_over ON job (id) WHERE state IN ('done', 'withdrawn', 'refused');
CREATE INDEX job_over_of_bench ON job (bench, id) WHERE state IN ('done', 'withdrawn', 'refused');
CREATE INDEX job_waiting_of_all ON job (priority DESC, id) WHERE state = 'waiting';
)sql";

}  // namespace eyelevel::record
