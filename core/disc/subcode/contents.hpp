// SPDX-License-Identifier: Apache-2.0
// The table of contents, gathered from Q blocks of the lead-in: ECMA-130 2nd ed. 22.3.4. Each item comes three times in
// a row and the whole table again and again, so that a capture of some tenths of a second holds all of it. Two discs of
// the same pressing have the same table: it tells which disc lies in the player.
#pragma once

#include <span>
#include <string>

#include "core/disc/analysis.hpp"

namespace eyelevel::disc::subcode {

// Only blocks that are usable count. Where two say different things of one item, the first one stands.
TableOfContents contents_of(std::span<const QBlock> blocks);
// The same of blocks that come one by one: each is gathered, and in the end it is seen whether the table is complete.
void gather(const QBlock& block, TableOfContents& contents);
void conclude(TableOfContents& contents);

// A short text that is the same for the same complete table and hardly ever for another: tracks, start of the lead-out
// and a check sum over all starts, "12 tracks to 48:31:20, 3F2A". Empty while the table is not complete.
std::string mark_of(const TableOfContents& contents);

}  // namespace eyelevel::disc::subcode
