// SPDX-License-Identifier: Apache-2.0
// Runs that prove their bench. Never edited once released: see migrations.hpp.
#pragma once

namespace eyelevel::record {

inline constexpr const char* migration_0002_proofs = R"sql(
ALTER TABLE run ADD COLUMN proves TEXT NOT NULL DEFAULT '';
CREATE INDEX run_by_proof ON run (bench, proves, begun_utc) WHERE proves <> '';
)sql";

}  // namespace eyelevel::record
