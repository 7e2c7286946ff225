// SPDX-License-Identifier: Apache-2.0
// The steps that bring a store file from one format to the next. Numbered from 1 by their place; a released one is
// never edited, a change is a new one at the end. Each runs in one transaction; the file remembers how far it is.
#pragma once

#include <span>

namespace eyelevel::record {

std::span<const char* const> migrations();

// Marks a file as ours (SQLite's application_id): "EyeL" as four bytes.
inline constexpr int store_application_id = 0x4579654C;

}  // namespace eyelevel::record
