// SPDX-License-Identifier: Apache-2.0
#include "core/record/run_record.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"

namespace eyelevel::record {

namespace {

// Gathers what each kind of event tells.
struct Gather {
  RunRecord& run;
  const event::Event& event;

  void operator()(const event::Begun& x) const { run.begun = x; }
  void operator()(const event::Connected& x) const { run.instruments.push_back(x.instrument); }
  void operator()(const event::Captured& x) const {
    run.captures.push_back({event.number, event.time_s, x.name, x.signal, x.index, x.not_kept});
  }
  void operator()(const event::Measured& x) const { run.readings.push_back(x.reading); }
  void operator()(const event::Judged& x) const {
    // The newest of that name: a loop measures the same reading again.
    for (auto reading = run.readings.rbegin(); reading != run.readings.rend(); ++reading) {
      if (reading->name != x.reading) continue;
      reading->judgement = x.judgement;
      reading->limit = x.limit;
      return;
    }
  }
  void operator()(const event::Proved& x) const { run.proofs.push_back(x); }
  void operator()(const event::Aimed& x) const { run.aimed = x; }
  void operator()(const event::Advised& x) const { run.advised.push_back(x); }
  void operator()(const event::Found& x) const { run.found.push_back(x); }
  void operator()(const event::Diagnosed& x) const { run.findings = x.findings; }
  void operator()(const event::Noted& x) const { run.notes.push_back(x.text); }
  void operator()(const event::Answered& x) const {
    if (x.name.empty()) return;
    std::erase_if(run.answers, [&](const event::Answered& a) { return a.name == x.name; });
    run.answers.push_back(x);
  }
  void operator()(const event::Enclosed& x) const {
    run.enclosures.push_back({event.number, x.name, x.about, x.file_name, x.size_bytes});
  }
  // Of a run that goes on from another one, what that had come to.
  void operator()(const event::Reached& x) const {
    if (run.begun.goes_on_from.empty()) return;
    const auto is_there = [&](const metrology::Reading& reading) {
      return std::any_of(run.readings.begin(), run.readings.end(),
                         [&](const auto& r) { return r.name == reading.name; });
    };
    for (const metrology::Reading& reading : x.readings)
      if (!is_there(reading)) run.readings.push_back(reading);
    for (const event::ToldAnswer& told : x.answers)
      (*this)(event::Answered{x.place, told.answer, "run " + run.begun.goes_on_from, told.name});
  }
  void operator()(const event::Set& x) const { run.settings.push_back(x); }
  void operator()(const event::BrokenOff& x) const { run.broken_off.push_back(x); }
  void operator()(const auto&) const {}  // what was waited for, asked and seen is for the journal only
};

}  // namespace

const ThinnedCapture* RunRecord::thinned(std::int64_t event_number) const {
  if (!thinned_out) return nullptr;
  const auto& gone = thinned_out->said.gone;
  const auto at = std::find_if(gone.begin(), gone.end(), [&](const auto& g) { return g.event == event_number; });
  return at == gone.end() ? nullptr : &*at;
}

const event::BrokenOff* RunRecord::stopped_by() const {
  if (summary.ended != "stopped" || broken_off.empty()) return nullptr;
  const auto last =
      std::find_if(broken_off.rbegin(), broken_off.rend(), [](const auto& b) { return b.place.part != "closing"; });
  return last == broken_off.rend() ? &broken_off.front() : &*last;
}

RunRecord record_of(RunSummary summary, std::span<const event::Event> events) {
  RunRecord run;
  run.summary = std::move(summary);
  for (const event::Event& event : events) {
    std::visit(Gather{run, event}, event.body);
    run.length_s = std::max(run.length_s, event.time_s);
  }
  return run;
}

std::vector<metrology::Reading> standing_readings(const RunRecord& run) {
  std::vector<metrology::Reading> list;
  for (const metrology::Reading& recorded : run.readings)
    if (auto now = standing(recorded, run.corrections)) list.push_back(std::move(*now));
  return list;
}

namespace {

// The run, or where it is.
RunSummary found_run(Store& store, const std::string& id) {
  try {
    return store.run(id);
  } catch (const base::Error& error) {
    if (error.record().code != base::ErrorCode::not_found) throw;
    const auto entries = store.book({.kind = Fields<RunArchived>::name, .subject = id});
    if (entries.empty()) throw;
    const std::string file = body_of<RunArchived>(entries.back()).file;
    throw base::Error(
        base::ErrorCode::not_found,
        fmt::format("run {} was moved into the archive {} on {}", id, file, utc_text(entries.back().utc).substr(0, 10)),
        "eyelevel records restore " + file);
  }
}

}  // namespace

RunRecord read_run(Store& store, std::string_view id) {
  std::string wanted(id);
  if (wanted == "last") {
    RunQuery newest;
    newest.at_most = 1;
    if (const auto list = store.runs(newest); !list.empty()) wanted = list.front().id;
  }
  RunRecord run = record_of(found_run(store, wanted), store.events(wanted, Samples::none));
  BookQuery about;
  about.kind = Fields<Corrected>::name;
  about.subject = wanted;
  run.corrections = corrections_of(store.book(about));
  about.kind = Fields<CapturesThinned>::name;
  for (const BookEntry& entry : store.book(about))
    run.thinned_out = {entry.utc, entry.by, entry.because, body_of<CapturesThinned>(entry)};
  return run;
}

}  // namespace eyelevel::record
