// SPDX-License-Identifier: Apache-2.0
// One stored run as those who report it want it: what was done, with what, what was measured and how it ended. Made
// from the events alone; the samples stay in the store until they are asked for.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/event/event.hpp"
#include "core/record/books/corrections.hpp"
#include "core/record/books/keeping.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {

struct CaptureInfo {
  std::int64_t event_number = 0;  // for Store::capture
  double time_s = 0;              // of the event, from the beginning of the run
  std::string name;
  std::string signal;
  int index = 0;         // from 1, counts tries
  std::string not_kept;  // why; empty when it was kept
};

struct EnclosureInfo {
  std::int64_t event_number = 0;  // for Store::enclosure
  std::string name;
  std::string about;
  std::string file_name;
  std::int64_t size_bytes = 0;
};

// What was said when samples were thinned out.
struct ThinnedOut {
  base::UtcTime utc{};
  std::string by;
  std::string because;
  CapturesThinned said;
};

struct RunRecord {
  RunSummary summary;
  event::Begun begun;
  std::vector<event::InstrumentUsed> instruments;
  std::vector<CaptureInfo> captures;
  std::vector<metrology::Reading> readings;  // in the order taken, each with its judgement
  std::vector<event::Proved> proofs;         // items of a bench proof that are no readings
  std::optional<event::Aimed> aimed;         // what the newest adjustment was to come to
  std::vector<event::Advised> advised;       // turns of the trimmer, of all adjustments
  std::vector<event::Found> found;           // what is wrong with the unit or the bench
  std::vector<event::Finding> findings;      // of the last diagnosis, the likeliest first
  std::vector<std::string> notes;
  std::vector<event::Answered> answers;  // those that have a name, each the newest of it
  std::vector<EnclosureInfo> enclosures;
  std::vector<event::BrokenOff> broken_off;  // in the order told
  std::vector<event::Set> settings;          // in the order made
  std::vector<Correction> corrections;       // what was said of it since; the readings are as they were recorded
  std::optional<ThinnedOut> thinned_out;     // empty: nothing was
  double length_s = 0;                       // time of the last event

  bool is_closed() const { return !summary.ended.empty(); }
  // What the sheet shows of a capture whose samples are gone; null for any other.
  const ThinnedCapture* thinned(std::int64_t event_number) const;
  // Why it was stopped; null for a run that was not, or where that could not be recorded. A step with an `otherwise`
  // that broke off earlier did not stop the run, nor did what broke off while it closed.
  const event::BrokenOff* stopped_by() const;
};

// The readings as they stand now: corrected, and without those that do not count.
std::vector<metrology::Reading> standing_readings(const RunRecord& run);

RunRecord record_of(RunSummary summary, std::span<const event::Event> events);

// With what was said of it since. Throws Error(not_found) with the archive that it was moved into, or the nearest id.
// "last" is the newest run.
RunRecord read_run(Store& store, std::string_view id);

}  // namespace eyelevel::record
