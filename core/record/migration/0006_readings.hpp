// SPDX-License-Identifier: Apache-2.0
// Readings as rows beside their runs, so that statistics over many runs need not open their events, with an index for
// each way of looking; and one by which closed runs are counted. What was recorded before is taken out of the events: a
// judgement is that of the newest reading of its name before it, as run_record.cpp has it; a number that is a word
// (infinity) is no value. Numbers are cast from their text, which knows no locale; json_extract reads them with a comma
// where the locale says so. Never edited once released: see migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* migration_0006_readings = R"sql(
CREATE TABLE reading (
  run TEXT NOT NULL REFERENCES run (id),
  number INTEGER NOT NULL,
  name TEXT NOT NULL,
  value REAL,
  unit TEXT NOT NULL,
  standard_uncertainty REAL,
  expanded_uncertainty REAL,
  at_least REAL,
  at_most REAL,
  judgement TEXT,
  begun_utc TEXT NOT NULL,
  sequence TEXT NOT NULL,
  serial TEXT NOT NULL,
  model TEXT NOT NULL,
  bench TEXT NOT NULL,
  operator TEXT NOT NULL,
  PRIMARY KEY (run, number)
) WITHOUT ROWID;
INSERT INTO reading
SELECT run, number, json_extract(reading, '$.name'),
  CASE WHEN json_type(reading, '$.value') IN ('integer', 'real') THEN CAST(reading -> '$.value' AS REAL) END,
  json_extract(reading, '$.unit'),
  CASE WHEN json_type(reading, '$.interval.standard_uncertainty') IN ('integer', 'real')
    THEN CAST(reading -> '$.interval.standard_uncertainty' AS REAL) END,
  CASE WHEN json_type(reading, '$.interval.expanded_uncertainty') IN ('integer', 'real')
    THEN CAST(reading -> '$.interval.expanded_uncertainty' AS REAL) END,
  CASE WHEN json_type(reading, '$.limit.at_least') IN ('integer', 'real')
    THEN CAST(reading -> '$.limit.at_least' AS REAL) END,
  CASE WHEN json_type(reading, '$.limit.at_most') IN ('integer', 'real')
    THEN CAST(reading -> '$.limit.at_most' AS REAL) END,
  json_extract(reading, '$.judgement'), begun_utc, sequence, serial, model, bench, operator
FROM (SELECT event.run, event.number, json_extract(body, '$.body.reading') AS reading,
    run.begun_utc, run.sequence, run.serial, run.model, run.bench, run.operator
  FROM event JOIN run ON run.id = event.run
  WHERE body LIKE '%"event":"measured"%' AND json_extract(body, '$.event') = 'measured');
CREATE TEMP TABLE judged AS
SELECT run, number AS told, json_extract(body, '$.body.judgement') AS judgement,
  CASE WHEN json_type(body, '$.body.limit.at_least') IN ('integer', 'real')
    THEN CAST(body -> '$.body.limit.at_least' AS REAL) END AS at_least,
  CASE WHEN json_type(body, '$.body.limit.at_most') IN ('integer', 'real')
    THEN CAST(body -> '$.body.limit.at_most' AS REAL) END AS at_most,
  (SELECT MAX(reading.number) FROM reading WHERE reading.run = event.run AND reading.number < event.number
    AND reading.name = json_extract(body, '$.body.reading')) AS number
FROM event WHERE body LIKE '%"event":"judged"%' AND json_extract(body, '$.event') = 'judged';
CREATE INDEX temp.judged_of ON judged (run, number, told);
UPDATE reading SET (judgement, at_least, at_most) = (SELECT judgement, at_least, at_most FROM judged
  WHERE judged.run = reading.run AND judged.number = reading.number ORDER BY told DESC LIMIT 1)
WHERE EXISTS (SELECT 1 FROM judged WHERE judged.run = reading.run AND judged.number = reading.number);
DROP TABLE judged;
CREATE INDEX reading_by_begin ON reading (begun_utc, run, number);
CREATE INDEX reading_by_name ON reading (name, begun_utc, run, number);
CREATE INDEX reading_by_model ON reading (model, name, begun_utc, run, number);
CREATE INDEX reading_by_serial ON reading (serial, begun_utc, run, number);
CREATE INDEX reading_by_bench ON reading (bench, name, begun_utc, run, number);
CREATE INDEX reading_by_operator ON reading (operator, name, begun_utc, run, number);
CREATE INDEX run_by_tally ON run (day, model, bench, operator, sequence, judgement, ended, proves);
)sql";

}  // namespace eyelevel::record
