// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/archive.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <fstream>
#include <functional>
#include <set>
#include <system_error>

#include "core/base/error.hpp"
#include "core/record/archive/frame.hpp"
#include "core/record/archive/sync.hpp"
#include "core/record/books/body.hpp"
#include "core/record/books/pickup_book.hpp"
#include "core/record/books/unit_book.hpp"
#include "core/record/find_runs.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/rows.hpp"
#include "core/record/store/run_names.hpp"

namespace eyelevel::record {

namespace {

namespace json = boost::json;
namespace fs = std::filesystem;
using base::Error;
using base::ErrorCode;

constexpr const char* format_name = "eyelevel records";

void write_run(FrameWriter& out, Store& store, const RunSummary& run) {
  const auto events = store.events(run.id, Samples::all);
  out.put(text_of(json::object{
      {"run", json::string(run.id)}, {"program", json::string(clean_utf8(run.program))}, {"events", events.size()}}));
  for (const event::Event& event : events) {
    out.put(text_of(to_json(event)));
    int part = 0;
    for (const Chunk& chunk : chunks_of(event))
      out.put({{"chunk", event.number}, {"part", ++part}}, {reinterpret_cast<const char*>(chunk.data()), chunk.size()});
  }
}

// The number in one store says nothing in another.
json::object without_number(const BookEntry& entry) {
  auto form = to_json(entry);
  form.erase("number");
  return form;
}

// What one pass over an archive meets, in its order.
struct Visitor {
  std::function<void(const std::string& run, const std::string& program, const std::vector<event::Event>&)> run;
  std::function<void(BookEntry)> entry;
};

class ArchiveReader {
 public:
  ArchiveReader(std::istream& in, const std::string& name) : frames_(in, name), frame_(heading()) {}

  Archived go_through(const Visitor& visitor) {
    Archived count;
    for (frame_ = frames_.next(); !frame_.json.contains("end"); ++count.runs) {
      if (frame_.json.contains("entry")) break;
      read_run(visitor);
    }
    for (; !frame_.json.contains("end"); frame_ = frames_.next(), ++count.entries) read_entry(visitor);
    require_end(count);
    return count;
  }

 private:
  Frame heading() {
    Frame frame;
    try {
      frame = frames_.next();
    } catch (const Error& error) {
      throw frames_.wrong("this is no archive of records: " + error.record().message,
                          "name a file that `eyelevel export --archive` has written");
    }
    const auto* format = frame.json.if_contains("format");
    const auto* version = frame.json.if_contains("version");
    if (format == nullptr || *format != format_name || version == nullptr || !version->is_number())
      throw frames_.wrong("this is no archive of records", "name a file that `eyelevel export --archive` has written");
    if (*version != archive_version)
      throw frames_.wrong(fmt::format("a newer eyelevel wrote this archive: its version is {}, this program knows {}; "
                                      "nothing of it was taken in",
                                      text_of(*version), archive_version),
                          "use the newer program");
    return frame;
  }

  void read_run(const Visitor& visitor) {
    const auto* id = frame_.json.if_contains("run");
    const auto* program = frame_.json.if_contains("program");
    const auto* number = frame_.json.if_contains("events");
    if (id == nullptr || !id->is_string() || program == nullptr || !program->is_string() || number == nullptr ||
        !number->is_number())
      throw out_of_order("the beginning of a run, an entry or the end");
    const std::string run(id->get_string()), by(program->get_string());
    const auto expected = number->to_number<std::uint64_t>();
    std::vector<event::Event> events;
    frame_ = frames_.next();
    while (events.size() < expected) events.push_back(read_event(run));
    visitor.run(run, by, events);
  }

  event::Event read_event(const std::string& run) {
    if (!frame_.json.contains("event")) throw out_of_order("an event of run " + run);
    const std::string text = std::move(frame_.text);
    std::vector<Chunk> chunks;
    for (frame_ = frames_.next(); frame_.json.contains("chunk"); frame_ = frames_.next()) {
      const auto* bytes = reinterpret_cast<const std::byte*>(frame_.bytes.data());
      chunks.emplace_back(bytes, bytes + frame_.bytes.size());
    }
    try {
      auto event = event_from_text(text, run, Samples::all, [&](std::int64_t) { return chunks; });
      // A program that knows fewer fields would leave some out, and nobody would notice.
      if (event.run != run || text_of(to_json(event)) != text)
        throw Error(ErrorCode::bad_input, "this program would not keep all that stands in it",
                    "use the program that wrote the archive, or a newer one");
      return event;
    } catch (const Error& error) {
      throw frames_.wrong(fmt::format("an event of run {} before this line cannot be taken in: {}; nothing was", run,
                                      error.record().message),
                          error.record().advice);
    }
  }

  void read_entry(const Visitor& visitor) {
    const auto* form = frame_.json.if_contains("entry");
    if (form == nullptr || !form->is_object()) throw out_of_order("an entry of the books or the end");
    try {
      BookEntry entry = entry_from_json(form->get_object());
      if (text_of(json::object{{"entry", without_number(entry)}}) != frame_.text)
        throw Error(ErrorCode::bad_input, "this program would not keep all that stands in it",
                    "use the program that wrote the archive, or a newer one");
      visitor.entry(std::move(entry));
    } catch (const Error& error) {
      throw frames_.wrong(fmt::format("this entry cannot be taken in: {}; nothing was", error.record().message),
                          error.record().advice);
    }
  }

  void require_end(const Archived& count) {
    const json::object end{{"end", json::object{{"runs", count.runs}, {"entries", count.entries}}}};
    if (text_of(end) != frame_.text)
      throw frames_.wrong(fmt::format("the archive holds {} runs and {} entries, its end says otherwise; nothing was "
                                      "taken in",
                                      count.runs, count.entries),
                          "export it again");
    if (!frames_.is_over()) throw frames_.wrong("something stands behind the end of the archive", "export it again");
  }

  Error out_of_order(const std::string& expected) const {
    return frames_.wrong(fmt::format("the archive is damaged: expected {}; nothing was taken in", expected),
                         "export it again");
  }

  FrameReader frames_;
  Frame frame_;
};

Archived go_through(const fs::path& path, const Visitor& visitor) {
  std::ifstream in(path, std::ios::binary);
  if (!in || fs::is_directory(path))
    throw Error(ErrorCode::not_found, fmt::format("{} cannot be read", path.string()),
                "name a file that `eyelevel export --archive` has written");
  return ArchiveReader(in, path.string()).go_through(visitor);
}

// A run of that name which is there already must be the same one as far as both go.
void require_no_other(Store& store, const std::string& run, const std::vector<event::Event>& events) {
  run_number(run);
  RunQuery query;
  query.id = run;
  if (store.runs(query).empty()) return;
  for (const EventText& stored : store.event_texts(run, 0)) {
    const auto same =
        std::find_if(events.begin(), events.end(), [&](const event::Event& e) { return e.number == stored.number; });
    if (same != events.end()) require_same_event(run, stored.number, stored.text, text_of(to_json(*same)));
  }
}

RunSummary summary_of(const std::string& run, const std::vector<event::Event>& events) {
  RunSummary summary;
  summary.id = run;
  for (const event::Event& event : events) take_into(summary, event);
  return summary;
}

}  // namespace

std::vector<BookEntry> entries_of_runs(Store& store, std::span<const RunSummary> runs) {
  std::set<std::string> names, pickups;
  for (const RunSummary& run : runs) {
    names.insert(run.id);
    if (!run.serial.empty()) names.insert(run.serial);
  }
  std::vector<BookEntry> entries;
  for (const std::string& name : names)
    for (BookEntry& entry : entries_about(store, name)) {
      if (is_a<PickupFitted>(entry) && !names.contains(entry.subject)) pickups.insert(entry.subject);
      entries.push_back(std::move(entry));
    }
  for (const std::string& pickup : pickups)
    for (BookEntry& entry : entries_about(store, pickup)) entries.push_back(std::move(entry));
  std::sort(entries.begin(), entries.end(), [](const BookEntry& a, const BookEntry& b) {
    return a.placed != b.placed ? a.placed < b.placed : a.number < b.number;
  });
  entries.erase(std::unique(entries.begin(), entries.end(),
                            [](const BookEntry& a, const BookEntry& b) { return a.number == b.number; }),
                entries.end());
  return entries;
}

Archived write_archive(const fs::path& path, Store& store, std::span<const RunSummary> runs,
                       std::span<const BookEntry> entries) {
  const fs::path unfinished = path.string() + ".unfinished";
  const auto fail = [&](const std::string& why) {
    return Error(ErrorCode::bad_input, fmt::format("{} cannot be written: {}", path.string(), why),
                 "is the disk full, and may you write there?");
  };
  Archived count;
  errno = 0;
  std::ofstream file(unfinished, std::ios::binary | std::ios::trunc);
  if (!file) throw fail(std::generic_category().message(errno));
  try {
    FrameWriter out(file);
    out.put(text_of(json::object{{"format", format_name}, {"version", archive_version}}));
    for (auto run = runs.rbegin(); run != runs.rend(); ++run) {
      if (run->ended.empty()) {
        ++count.left;
        continue;
      }
      write_run(out, store, *run);
      ++count.runs;
    }
    for (const BookEntry& entry : entries) out.put(text_of(json::object{{"entry", without_number(entry)}}));
    count.entries = entries.size();
    out.put(text_of(json::object{{"end", json::object{{"runs", count.runs}, {"entries", count.entries}}}}));
    file.close();
    if (!file) throw fail("not all of it is on the disk");
    sync(unfinished);
    fs::rename(unfinished, path);
    sync_folder_of(path);
  } catch (const fs::filesystem_error& error) {
    fs::remove(unfinished);
    throw fail(error.code().message());
  } catch (...) {
    fs::remove(unfinished);
    throw;
  }
  return count;
}

std::vector<RunSummary> runs_in_archive(const fs::path& path, Store& store) {
  std::vector<RunSummary> runs;
  go_through(path, {[&](const std::string& run, const std::string&, const auto& events) {
                      require_no_other(store, run, events);
                      runs.push_back(summary_of(run, events));
                    },
                    [](const BookEntry&) {}});
  return runs;
}

Archived read_archive(const fs::path& path, Store& store) {
  const Visitor look{
      [&](const std::string& run, const std::string&, const auto& events) { require_no_other(store, run, events); },
      [](const BookEntry&) {}};
  go_through(path, look);
  std::vector<BookEntry> entries;
  const Visitor take{[&](const std::string& run, const std::string& program, const auto& events) {
                       store.bring(run, events, program);
                     },
                     [&](BookEntry entry) { entries.push_back(std::move(entry)); }};
  const Archived count = go_through(path, take);
  store.bring_entries(entries);
  return count;
}

}  // namespace eyelevel::record
