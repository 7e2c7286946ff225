// SPDX-License-Identifier: Apache-2.0
// Which runs were looked at for thinning out, and an index of those that were not. Never edited once released: see
// migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* migration_0007_thinned = R"sql(
ALTER TABLE run ADD COLUMN thinned INTEGER NOT NULL DEFAULT 0;
CREATE INDEX run_to_thin_out ON run (begun_utc, day, number) WHERE thinned = 0 AND ended <> '';
)sql";

}  // namespace eyelevel::record
