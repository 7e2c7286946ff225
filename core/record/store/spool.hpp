// SPDX-License-Identifier: Apache-2.0
// The store of a daemon whose records are on a server that may be out of reach for a while. A run lies in a file of
// this machine, the spool, from its first event on, until the server has all of it: so whoever runs it waits for the
// file only, an outage is nothing but runs that stay in the file for longer, and a daemon that is killed meanwhile
// loses nothing. Only the beginning needs the server: it names the run and takes its first event, so that whether a job
// has begun is known to every daemon and no job is done twice. Taking in what is there already changes nothing
// (Store::bring), so that catching up may break off and begin again.
#pragma once

#include <functional>
#include <memory>
#include <mutex>
#include <set>
#include <string>

#include "core/record/store/store.hpp"

namespace eyelevel::record {

class SpooledStore final : public Store {
 public:
  // Opens the server's store; throws Error(no_connection) when that cannot be reached.
  using Open = std::function<std::unique_ptr<Store>()>;

  // Throws what `open` throws: whoever begins without the server learns it then.
  SpooledStore(Open open, std::unique_ptr<Store> spool);

  // Brings in what the server does not have yet. Throws Error(no_connection) when it is out of reach, Error(bad_input)
  // when it has another run of the same name; that one stays in the spool, all others are brought in.
  void catch_up();

  std::string reserve_run(base::UtcTime now) override;
  void write(std::string_view run, std::span<const event::Event> events) override;
  void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) override;
  bool drop(std::string_view run, std::span<const BookEntry> said) override;
  // A closed run is on the server alone, or not to be touched yet.
  bool thin_out(std::string_view run, std::span<const std::int64_t> captures, std::span<const BookEntry> said) override;
  // Of the spool only while the server is out of reach.
  std::vector<RunSummary> runs(const RunQuery& query) override;
  RunSummary run(std::string_view id) override;
  std::vector<event::Event> events(std::string_view run, Samples samples) override;
  std::vector<EventText> event_texts(std::string_view run, std::int64_t after) override;
  std::shared_ptr<const signal::Waveform> capture(std::string_view run, std::int64_t event_number) override;
  std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t event_number) override;
  // The books are on the server alone.
  std::vector<BookEntry> note(std::span<const BookEntry> entries) override;
  void bring_entries(std::span<const BookEntry> entries) override;
  std::vector<BookEntry> book(const BookQuery& query) override;
  // Of the server alone: what is in the spool comes to it.
  std::vector<ReadingRow> readings(const ReadingQuery& query) override;
  std::vector<Tally> tallies(const TallyQuery& query) override;
  bool works_inline() const override { return false; }
  std::string name() const override { return name_; }

 private:
  template <class Work>
  auto on_server(Work work) -> decltype(work(std::declval<Store&>()));
  template <class Work>
  auto where_it_is(std::string_view run, Work work) -> decltype(work(std::declval<Store&>()));
  void forward(const std::string& run, std::span<const event::Event> events);
  void taken_in(const std::string& run);

  std::mutex mutex_;
  Open open_;
  std::unique_ptr<Store> server_;  // null: out of reach when it was tried last
  std::unique_ptr<Store> spool_;
  std::string name_;
  std::set<std::string, std::less<>> spooled_;  // runs in the spool
  std::set<std::string, std::less<>> behind_;   // those of them of which the server lacks something
};

}  // namespace eyelevel::record
