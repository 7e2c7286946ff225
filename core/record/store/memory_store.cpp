// SPDX-License-Identifier: Apache-2.0
// The store of rehearsals: events as they are, nothing written anywhere, gone with the program.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <mutex>
#include <tuple>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/readings.hpp"
#include "core/record/store/rows.hpp"
#include "core/record/store/run_names.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {
namespace {

struct KeptRun {
  RunSummary summary;
  std::vector<event::Event> events;
  bool is_thinned = false;
};

class MemoryStore final : public Store {
 public:
  explicit MemoryStore(const MemoryOptions& options) : options_(options) {}

  std::string reserve_run(base::UtcTime now) override {
    const std::scoped_lock lock(mutex_);
    const std::string day = day_of(now);
    const std::string id = run_name(day, ++last_of_day_[day]);
    index_[id] = runs_.size();
    runs_.emplace_back().summary.id = id;
    return id;
  }

  void write(std::string_view run, std::span<const event::Event> events) override {
    const std::scoped_lock lock(mutex_);
    KeptRun& kept = find(run);
    for (const event::Event& event : events) {
      take_into(kept.summary, event);
      auto& copy = kept.events.emplace_back(event);
      if (auto* captured = std::get_if<event::Captured>(&copy.body); captured != nullptr && !options_.keep_captures) {
        captured->waveform.reset();
      }
    }
  }

  void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) override {
    const RunNumber number = run_number(run);
    std::vector<event::Event> fresh;
    {
      const std::scoped_lock lock(mutex_);
      auto& last = last_of_day_[number.day];
      last = std::max(last, number.number);
      if (index_.emplace(std::string(run), runs_.size()).second) runs_.emplace_back().summary.id = run;
      const auto& known = find(run).events;
      for (const event::Event& event : events) {
        const auto same =
            std::find_if(known.begin(), known.end(), [&](const auto& e) { return e.number == event.number; });
        if (same == known.end())
          fresh.push_back(event);
        else
          require_same_event(run, event.number, text_of(to_json(*same)), text_of(to_json(event)));
      }
    }
    write(run, fresh);
    const std::scoped_lock lock(mutex_);
    if (!program.empty()) find(run).summary.program = program;
  }

  bool drop(std::string_view run, std::span<const BookEntry> said) override {
    const std::scoped_lock lock(mutex_);
    const auto found = index_.find(run);
    if (found == index_.end() || runs_[found->second].events.empty()) return false;
    runs_[found->second].events.clear();  // a run without events is not there
    for (const BookEntry& entry : said) noted(entry);
    return true;
  }

  bool thin_out(std::string_view run, std::span<const std::int64_t> captures,
                std::span<const BookEntry> said) override {
    const std::scoped_lock lock(mutex_);
    const auto found = index_.find(run);
    if (found == index_.end() || runs_[found->second].is_thinned || runs_[found->second].summary.ended.empty())
      return false;
    KeptRun& kept = runs_[found->second];
    kept.is_thinned = true;
    for (event::Event& event : kept.events)
      if (std::find(captures.begin(), captures.end(), event.number) != captures.end())
        leave_out(std::get<event::Captured>(event.body));
    for (const BookEntry& entry : said) noted(entry);
    return true;
  }

  std::vector<RunSummary> runs(const RunQuery& query) override {
    const std::scoped_lock lock(mutex_);
    std::vector<RunSummary> list;
    for (auto kept = runs_.rbegin(); kept != runs_.rend() && list.size() < query.at_most; ++kept) {
      const RunSummary& s = kept->summary;
      const bool wanted =
          !kept->events.empty() && query.id.value_or(s.id) == s.id && query.serial.value_or(s.serial) == s.serial &&
          query.sequence.value_or(s.sequence) == s.sequence && query.bench.value_or(s.bench) == s.bench &&
          query.proves.value_or(s.proves) == s.proves && query.model.value_or(s.model) == s.model &&
          query.operator_name.value_or(s.operator_name) == s.operator_name &&
          (!query.judgement || query.judgement == s.judgement) && (!query.from || s.begun >= *query.from) &&
          (!query.until || s.begun < *query.until) &&
          (!query.is_to_thin_out || (!kept->is_thinned && !s.ended.empty()));
      if (wanted) list.push_back(s);
    }
    return list;
  }

  RunSummary run(std::string_view id) override {
    const std::scoped_lock lock(mutex_);
    return begun(id).summary;
  }

  std::vector<event::Event> events(std::string_view run, Samples) override {
    const std::scoped_lock lock(mutex_);
    return begun(run).events;
  }

  std::vector<EventText> event_texts(std::string_view run, std::int64_t after) override {
    const std::scoped_lock lock(mutex_);
    std::vector<EventText> list;
    for (const event::Event& event : begun(run).events)
      if (event.number > after) list.push_back({event.number, text_of(to_json(event))});
    return list;
  }

  std::shared_ptr<const signal::Waveform> capture(std::string_view run, std::int64_t event_number) override {
    const std::scoped_lock lock(mutex_);
    return capture_in(event_of(run, event_number), run, event_number);
  }

  std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t event_number) override {
    const std::scoped_lock lock(mutex_);
    return enclosure_in(event_of(run, event_number), run, event_number);
  }

  std::vector<BookEntry> note(std::span<const BookEntry> entries) override {
    const std::scoped_lock lock(mutex_);
    std::vector<BookEntry> kept(entries.begin(), entries.end());
    for (BookEntry& entry : kept) entry = noted(entry);
    return kept;
  }

  void bring_entries(std::span<const BookEntry> entries) override {
    const std::scoped_lock lock(mutex_);
    const auto told = [](const BookEntry& e) {
      return std::tie(e.utc, e.placed, e.kind, e.subject, e.concerns, e.by, e.because, e.body);
    };
    for (BookEntry entry : entries)
      if (std::none_of(book_.begin(), book_.end(), [&](const BookEntry& e) { return told(e) == told(entry); }))
        add(entry);
  }

  std::vector<BookEntry> book(const BookQuery& query) override {
    const std::scoped_lock lock(mutex_);
    std::vector<BookEntry> list;
    for (const BookEntry& e : book_)
      if (query.kind.value_or(e.kind) == e.kind && query.subject.value_or(e.subject) == e.subject &&
          query.concerns.value_or(e.concerns) == e.concerns)
        list.push_back(e);
    return list;
  }

  std::vector<ReadingRow> readings(const ReadingQuery& query) override {
    const std::scoped_lock lock(mutex_);
    std::vector<ReadingRow> list;
    for (const KeptRun& kept : runs_)
      for (ReadingRow& row : readings_in(kept.summary, kept.events))
        if (is_wanted(row, query)) list.push_back(std::move(row));
    const auto newer = [](const ReadingRow& a, const ReadingRow& b) {
      return std::tie(b.begun, b.run, b.number) < std::tie(a.begun, a.run, a.number);
    };
    std::sort(list.begin(), list.end(), newer);
    if (list.size() > query.at_most) list.resize(query.at_most);
    return list;
  }

  std::vector<Tally> tallies(const TallyQuery& query) override {
    const std::scoped_lock lock(mutex_);
    std::vector<RunSummary> all;
    for (const KeptRun& kept : runs_)
      if (!kept.events.empty()) all.push_back(kept.summary);
    return tallies_of(all, query);
  }

  bool works_inline() const override { return true; }
  std::string name() const override { return "memory"; }

 private:
  BookEntry noted(BookEntry entry) {
    entry.placed = book_.empty() ? entry.utc : std::max(entry.utc, book_.back().placed);
    add(entry);
    return entry;
  }
  static void leave_out(event::Captured& captured) {
    signal::Waveform scale = *captured.waveform;
    captured.samples_left_out += scale.size();
    std::visit([](auto& codes) { codes.clear(); }, scale.codes);
    captured.waveform = std::make_shared<const signal::Waveform>(std::move(scale));
  }
  // In the order in which they hold.
  void add(BookEntry& entry) {
    entry.number = static_cast<std::int64_t>(book_.size()) + 1;
    book_.insert(std::upper_bound(book_.begin(), book_.end(), entry,
                                  [](const BookEntry& a, const BookEntry& b) { return a.placed < b.placed; }),
                 entry);
  }

  std::optional<event::Event> event_of(std::string_view run, std::int64_t event_number) {
    for (const event::Event& event : begun(run).events)
      if (event.number == event_number) return event;
    return std::nullopt;
  }
  KeptRun& find(std::string_view id) {
    const auto found = index_.find(id);
    return found != index_.end() ? runs_[found->second] : unknown(id);
  }
  [[noreturn]] KeptRun& unknown(std::string_view id) {
    std::vector<RunSummary> known;
    for (auto kept = runs_.rbegin(); kept != runs_.rend(); ++kept) {
      if (!kept->events.empty()) known.push_back(kept->summary);
    }
    throw_unknown_run(id, name(), known);
  }
  KeptRun& begun(std::string_view id) {
    const auto found = index_.find(id);
    return found != index_.end() && !runs_[found->second].events.empty() ? runs_[found->second] : unknown(id);
  }

  MemoryOptions options_;
  std::mutex mutex_;
  std::vector<KeptRun> runs_;
  std::map<std::string, std::size_t, std::less<>> index_;
  std::map<std::string, std::int64_t> last_of_day_;
  std::vector<BookEntry> book_;
};

}  // namespace

std::unique_ptr<Store> open_memory_store(const MemoryOptions& options) {
  return std::make_unique<MemoryStore>(options);
}

std::unique_ptr<Store> open_store(const std::string& where) {
  if (where == ":memory:") return open_memory_store();
  if (is_database(where)) return open_postgres_store(where);
  return open_file_store(where);
}

}  // namespace eyelevel::record
