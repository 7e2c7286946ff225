// SPDX-License-Identifier: Apache-2.0
// What the stores that speak SQL have in common: which columns they read and in which order, the listings, and how an
// event and its samples become rows. A parameter is written $1, $2, ... in the order of its first appearance, which
// both SQLite and PostgreSQL understand.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "core/record/journal/chunks.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {

struct Query {
  std::string sql;
  std::vector<std::string> values;
};

// As every database takes it: UTF-8 and no NUL, which PostgreSQL knows no way to keep.
std::string kept_text(std::string_view text);

// Nothing for any other word.
std::optional<metrology::Judgement> judgement_from(const std::string& word);

// Only what was asked for stands in the condition, so that each listing can use the index that is made for it.
Query runs_query(const RunQuery& query);
inline constexpr const char* one_run_query =
    "SELECT id, begun_utc, closed_utc, sequence, serial, model, bench, ended, judgement, program, proves, operator "
    "FROM run WHERE id = $1 AND begun_utc > ''";
// Marks a run as looked at for thinning out, where it is there, closed and was not before.
inline constexpr const char* thinned_query = "UPDATE run SET thinned = 1 WHERE id = $1 AND thinned = 0 AND ended <> ''";
// A row of either listing; an absent value is an empty text.
RunSummary summary_from(const std::vector<std::string>& row);

// The books. What is noted comes back as one row: its number and its place.
Query note_query(const BookEntry& entry);
Query bring_entry_query(const BookEntry& entry);
Query book_query(const BookQuery& query);
BookEntry entry_from(const std::vector<std::string>& row);

// "2030-01-07-3" in its parts. Throws Error(bad_input) for any other text.
struct RunNumber {
  std::string day;
  std::int64_t number = 0;
};
RunNumber run_number(std::string_view run);

// The samples or the content that go beside an event's text; of a capture whose samples were thinned out the mark of
// it, a chunk of no bytes.
std::vector<Chunk> chunks_of(const event::Event& event);
// Back from its text; `chunks` is asked only when they are wanted. Throws Error(bad_input) when it is damaged.
event::Event event_from_text(const std::string& text, std::string_view run, Samples samples,
                             const std::function<std::vector<Chunk>(std::int64_t event)>& chunks);

// Throws Error(bad_input): the stored event is not the one that is brought.
void require_same_event(std::string_view run, std::int64_t number, const std::string& stored,
                        const std::string& brought);

// Of a whole event. Throws Error(not_found) when it is none, holds none, or they were thinned out.
std::shared_ptr<const signal::Waveform> capture_in(const std::optional<event::Event>& event, std::string_view run,
                                                   std::int64_t event_number);
std::shared_ptr<const std::string> enclosure_in(const std::optional<event::Event>& event, std::string_view run,
                                                std::int64_t event_number);

}  // namespace eyelevel::record
