// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/spool.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::record {

using base::Error;
using base::ErrorCode;

SpooledStore::SpooledStore(Open open, std::unique_ptr<Store> spool)
    : open_(std::move(open)), server_(open_()), spool_(std::move(spool)), name_(server_->name()) {
  RunQuery all;
  all.at_most = static_cast<std::size_t>(-1);
  for (const RunSummary& run : spool_->runs(all)) spooled_.insert(run.id);
  behind_ = spooled_;
}

// A store that failed is not written to again: the next work opens it anew.
template <class Work>
auto SpooledStore::on_server(Work work) -> decltype(work(std::declval<Store&>())) {
  if (!server_) server_ = open_();
  try {
    return work(*server_);
  } catch (const Error& error) {
    const auto code = error.record().code;
    if (code == ErrorCode::not_recording || code == ErrorCode::no_connection) server_.reset();
    throw;
  }
}

template <class Work>
auto SpooledStore::where_it_is(std::string_view run, Work work) -> decltype(work(std::declval<Store&>())) {
  const std::scoped_lock lock(mutex_);
  if (spooled_.contains(run)) return work(*spool_);
  return on_server(work);
}

std::string SpooledStore::reserve_run(base::UtcTime now) {
  const std::scoped_lock lock(mutex_);
  try {
    return on_server([&](Store& store) { return store.reserve_run(now); });
  } catch (const Error& error) {
    auto record = error.record();
    if (record.code == ErrorCode::not_recording) record.code = ErrorCode::no_connection;  // it may be tried again
    throw Error(std::move(record));
  }
}

void SpooledStore::write(std::string_view run, std::span<const event::Event> events) {
  const std::scoped_lock lock(mutex_);
  const std::string id(run);
  if (spooled_.contains(id)) {
    spool_->bring(id, events, {});
    forward(id, events);
    return;
  }
  try {
    on_server([&](Store& store) {
      store.write(id, events);
      return true;
    });
  } catch (const Error& error) {
    auto record = error.record();
    if (record.code == ErrorCode::no_connection) record.code = ErrorCode::not_recording;  // as every store says it
    throw Error(std::move(record));
  }
  if (events.empty() || events.front().number != 1) return;
  spool_->bring(id, events, {});
  spooled_.insert(id);
}

void SpooledStore::forward(const std::string& run, std::span<const event::Event> events) {
  if (!server_) behind_.insert(run);  // opened by catch_up(): a run does not wait for a server that is away
  if (behind_.contains(run)) return;
  try {
    on_server([&](Store& store) {
      store.bring(run, events, {});
      return true;
    });
  } catch (const Error&) {
    behind_.insert(run);  // it is in the spool; catch_up() meets the same error if it lasts, and tells it
    return;
  }
  taken_in(run);
}

// The server has all that there is of the run.
void SpooledStore::taken_in(const std::string& run) {
  behind_.erase(run);
  if (spool_->run(run).ended.empty()) return;
  spool_->drop(run, {});
  spooled_.erase(run);
}

void SpooledStore::catch_up() {
  const std::scoped_lock lock(mutex_);
  std::optional<Error> another;
  for (const std::string& run : std::set(behind_)) {
    try {
      on_server([&](Store& store) {
        store.bring(run, spool_->events(run, Samples::all), spool_->run(run).program);
        return true;
      });
    } catch (const Error& error) {
      if (error.record().code != ErrorCode::bad_input) throw;
      another = error;
      continue;
    }
    taken_in(run);
  }
  if (!server_) server_ = open_();
  if (another) throw Error(*another);
}

void SpooledStore::bring(std::string_view run, std::span<const event::Event> events, std::string_view program) {
  const std::scoped_lock lock(mutex_);
  on_server([&](Store& store) {
    store.bring(run, events, program);
    return true;
  });
}

bool SpooledStore::drop(std::string_view run, std::span<const BookEntry> said) {
  const std::scoped_lock lock(mutex_);
  return on_server([&](Store& store) { return store.drop(run, said); });
}

bool SpooledStore::thin_out(std::string_view run, std::span<const std::int64_t> captures,
                            std::span<const BookEntry> said) {
  const std::scoped_lock lock(mutex_);
  return on_server([&](Store& store) { return store.thin_out(run, captures, said); });
}

std::vector<RunSummary> SpooledStore::runs(const RunQuery& query) {
  const std::scoped_lock lock(mutex_);
  try {
    return on_server([&](Store& store) { return store.runs(query); });
  } catch (const Error& error) {
    if (error.record().code != ErrorCode::no_connection) throw;
  }
  return spool_->runs(query);
}

RunSummary SpooledStore::run(std::string_view id) {
  return where_it_is(id, [&](Store& store) { return store.run(id); });
}

std::vector<event::Event> SpooledStore::events(std::string_view run, Samples samples) {
  return where_it_is(run, [&](Store& store) { return store.events(run, samples); });
}

std::vector<EventText> SpooledStore::event_texts(std::string_view run, std::int64_t after) {
  return where_it_is(run, [&](Store& store) { return store.event_texts(run, after); });
}

std::shared_ptr<const signal::Waveform> SpooledStore::capture(std::string_view run, std::int64_t event_number) {
  return where_it_is(run, [&](Store& store) { return store.capture(run, event_number); });
}

std::shared_ptr<const std::string> SpooledStore::enclosure(std::string_view run, std::int64_t event_number) {
  return where_it_is(run, [&](Store& store) { return store.enclosure(run, event_number); });
}

std::vector<BookEntry> SpooledStore::note(std::span<const BookEntry> entries) {
  const std::scoped_lock lock(mutex_);
  return on_server([&](Store& store) { return store.note(entries); });
}

void SpooledStore::bring_entries(std::span<const BookEntry> entries) {
  const std::scoped_lock lock(mutex_);
  on_server([&](Store& store) {
    store.bring_entries(entries);
    return true;
  });
}

std::vector<BookEntry> SpooledStore::book(const BookQuery& query) {
  const std::scoped_lock lock(mutex_);
  return on_server([&](Store& store) { return store.book(query); });
}

std::vector<ReadingRow> SpooledStore::readings(const ReadingQuery& query) {
  const std::scoped_lock lock(mutex_);
  return on_server([&](Store& store) { return store.readings(query); });
}

std::vector<Tally> SpooledStore::tallies(const TallyQuery& query) {
  const std::scoped_lock lock(mutex_);
  return on_server([&](Store& store) { return store.tallies(query); });
}

}  // namespace eyelevel::record
