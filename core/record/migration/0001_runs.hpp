// SPDX-License-Identifier: Apache-2.0
// First format. Never edited once released: see migrations.hpp. UTC as RFC 3339 text, so that it sorts and can be read;
// `begun_utc` is empty until the run's first event. Events are JSON (journal/event_json.hpp), samples are chunks
// (journal/chunks.hpp) under the number of their event.
#pragma once

namespace eyelevel::record {

inline constexpr const char* migration_0001_runs = R"sql(
CREATE TABLE run (
  id TEXT NOT NULL PRIMARY KEY,
  day TEXT NOT NULL,
  number INTEGER NOT NULL,
  begun_utc TEXT NOT NULL DEFAULT '',
  closed_utc TEXT,
  sequence TEXT NOT NULL DEFAULT '',
  serial TEXT NOT NULL DEFAULT '',
  model TEXT NOT NULL DEFAULT '',
  bench TEXT NOT NULL DEFAULT '',
  ended TEXT NOT NULL DEFAULT '',
  judgement TEXT,
  program TEXT NOT NULL DEFAULT '',
  UNIQUE (day, number)
);
CREATE INDEX run_by_begin ON run (begun_utc, day, number);
CREATE INDEX run_by_serial ON run (serial, begun_utc);
CREATE TABLE event (
  run TEXT NOT NULL REFERENCES run (id),
  number INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (run, number)
) WITHOUT ROWID;
CREATE TABLE chunk (
  run TEXT NOT NULL,
  event INTEGER NOT NULL,
  part INTEGER NOT NULL,
  bytes BLOB NOT NULL,
  PRIMARY KEY (run, event, part)
);
)sql";

}  // namespace eyelevel::record
