// SPDX-License-Identifier: Apache-2.0
// What 0006 makes of a file, on a PostgreSQL server. Its JSON functions refuse a text in which a NUL is written, so
// that one is made U+FFFD first, as kept_text() does; a backslash that is written itself does not begin one. Never
// edited once released: see migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* postgres_migration_0003_readings = R"sql(
CREATE TABLE reading (
  run text COLLATE "C" NOT NULL REFERENCES run (id),
  number bigint NOT NULL,
  name text COLLATE "C" NOT NULL,
  value double precision,
  unit text NOT NULL,
  standard_uncertainty double precision,
  expanded_uncertainty double precision,
  at_least double precision,
  at_most double precision,
  judgement text COLLATE "C",
  begun_utc text COLLATE "C" NOT NULL,
  sequence text COLLATE "C" NOT NULL,
  serial text COLLATE "C" NOT NULL,
  model text COLLATE "C" NOT NULL,
  bench text COLLATE "C" NOT NULL,
  operator text COLLATE "C" NOT NULL,
  PRIMARY KEY (run, number)
);
CREATE FUNCTION pg_temp.form(body text) RETURNS jsonb LANGUAGE sql IMMUTABLE AS $$
  SELECT regexp_replace(body, '(?<!\\)((?:\\\\)*)\\u0000', '\1\\ufffd', 'g')::jsonb $$;
CREATE FUNCTION pg_temp.number(form jsonb) RETURNS double precision LANGUAGE sql IMMUTABLE AS $$
  SELECT CASE WHEN jsonb_typeof(form) = 'number' THEN (form #>> '{}')::double precision END $$;
INSERT INTO reading
SELECT event.run, event.number, reading ->> 'name', pg_temp.number(reading -> 'value'), reading ->> 'unit',
  pg_temp.number(reading #> '{interval,standard_uncertainty}'),
  pg_temp.number(reading #> '{interval,expanded_uncertainty}'),
  pg_temp.number(reading #> '{limit,at_least}'), pg_temp.number(reading #> '{limit,at_most}'),
  reading ->> 'judgement', begun_utc, sequence, serial, model, bench, operator
FROM (SELECT run, number, pg_temp.form(body) #> '{body,reading}' AS reading FROM event
  WHERE body LIKE '%"event":"measured"%') AS event JOIN run ON run.id = event.run;
UPDATE reading SET judgement = judged.judgement, at_least = judged.at_least, at_most = judged.at_most
FROM (SELECT DISTINCT ON (event.run, reading.number) event.run, reading.number, form ->> 'judgement' AS judgement,
    pg_temp.number(form #> '{limit,at_least}') AS at_least, pg_temp.number(form #> '{limit,at_most}') AS at_most
  FROM (SELECT run, number, pg_temp.form(body) -> 'body' AS form FROM event WHERE body LIKE '%"event":"judged"%')
    AS event,
    LATERAL (SELECT number FROM reading WHERE reading.run = event.run AND reading.number < event.number
      AND reading.name = form ->> 'reading' ORDER BY number DESC LIMIT 1) AS reading
  ORDER BY event.run, reading.number, event.number DESC) AS judged
WHERE judged.run = reading.run AND judged.number = reading.number;
DROP FUNCTION pg_temp.form(text);
DROP FUNCTION pg_temp.number(jsonb);
CREATE INDEX reading_by_begin ON reading (begun_utc, run, number);
CREATE INDEX reading_by_name ON reading (name, begun_utc, run, number);
CREATE INDEX reading_by_model ON reading (model, name, begun_utc, run, number);
CREATE INDEX reading_by_serial ON reading (serial, begun_utc, run, number);
CREATE INDEX reading_by_bench ON reading (bench, name, begun_utc, run, number);
CREATE INDEX reading_by_operator ON reading (operator, name, begun_utc, run, number);
CREATE INDEX run_by_tally ON run (day, model, bench, operator, sequence, judgement, ended, proves);
)sql";

}  // namespace eyelevel::record
