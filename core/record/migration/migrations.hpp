// SPDX-License-Identifier: Apache-2.0
// The steps that bring a store from one format to the next: those of a file, and those of a PostgreSQL server, which
// count apart. Numbered from 1 by their place; a released one is never edited, a change is a new one at the end. Each
// runs in one transaction; the store remembers how far it is.
#pragma once

#include <span>

namespace eyelevel::record {

std::span<const char* const> migrations();
std::span<const char* const> postgres_migrations();

// Marks a file as ours (SQLite's application_id): "EyeL" as four bytes.
inline constexpr int store_application_id = 0x4579654C;

}  // namespace eyelevel::record
