// SPDX-License-Identifier: Apache-2.0
// Readings as rows (Store::readings) and closed runs counted (Store::tallies): what the stores that speak SQL ask, and
// the same out of events for those that do not. Parameters as in rows.hpp.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/record/store/rows.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {

// Columns: first the texts, then the numbers of a row.
Query readings_query(const ReadingQuery& query);
inline constexpr std::size_t reading_texts = 10;
inline constexpr std::size_t reading_numbers = 6;

// "1.203", whatever the locale. Throws Error(bad_input).
double number_from(const std::string& text);
// An absent judgement is an empty text; a value is never absent.
ReadingRow reading_from(std::span<const std::string> texts, std::span<const std::optional<double>> numbers);

// What an event adds to the table; what a row says of its run is taken from there. A judgement goes to the newest
// reading of its name.
Query measured_query(const std::string& run, std::int64_t number, const event::Measured& measured);
Query judged_query(const std::string& run, const event::Judged& judged);
Query operator_query(const std::string& run, const event::Answered& answered);

// Of one run, in the order measured.
std::vector<ReadingRow> readings_in(const RunSummary& run, std::span<const event::Event> events);
bool is_wanted(const ReadingRow& row, const ReadingQuery& query);

Query tallies_query(const TallyQuery& query);
Tally tally_from(const std::vector<std::string>& row);
// Of those runs that are closed and no proofs.
std::vector<Tally> tallies_of(std::span<const RunSummary> runs, const TallyQuery& query);

}  // namespace eyelevel::record
