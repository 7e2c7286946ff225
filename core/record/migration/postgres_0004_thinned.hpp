// SPDX-License-Identifier: Apache-2.0
// What 0006 makes of a file, on a PostgreSQL server. Never edited once released: see migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* postgres_migration_0004_thinned = R"sql(
ALTER TABLE run ADD COLUMN thinned bigint NOT NULL DEFAULT 0;
CREATE INDEX run_to_thin_out ON run (begun_utc, day, number) WHERE thinned = 0 AND ended <> '';
)sql";

}  // namespace eyelevel::record
