// SPDX-License-Identifier: Apache-2.0
// The books (books/entry.hpp), and who was at the bench of a run: the first who answered anything. With an index for
// each way of looking. Never edited once released: see migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* migration_0005_books = R"sql(
CREATE TABLE book (
  number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  placed_utc TEXT NOT NULL,
  utc TEXT NOT NULL,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  concerns TEXT NOT NULL,
  by_whom TEXT NOT NULL,
  because TEXT NOT NULL,
  body TEXT NOT NULL
);
CREATE INDEX book_by_place ON book (placed_utc, number);
CREATE INDEX book_by_subject ON book (subject, placed_utc, number);
CREATE INDEX book_by_concerned ON book (concerns, placed_utc, number);
CREATE INDEX book_by_kind ON book (kind, placed_utc, number);
ALTER TABLE run ADD COLUMN operator TEXT NOT NULL DEFAULT '';
UPDATE run SET operator = COALESCE((SELECT json_extract(body, '$.body.by') FROM event WHERE event.run = run.id
  AND body LIKE '%"event":"answered"%' AND json_extract(body, '$.event') = 'answered'
  AND json_extract(body, '$.body.by') <> '' ORDER BY event.number LIMIT 1), '');
CREATE INDEX run_by_model ON run (model, begun_utc, day, number);
CREATE INDEX run_by_operator ON run (operator, begun_utc, day, number);
CREATE INDEX run_by_judgement ON run (judgement, begun_utc, day, number);
)sql";

}  // namespace eyelevel::record
