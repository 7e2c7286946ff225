// SPDX-License-Identifier: Apache-2.0
// What happens around a rehearsed run: the record's disk is full, somebody sets the computer's clock. Each wraps what
// it spoils; that must outlive it.
#pragma once

#include <atomic>
#include <mutex>
#include <optional>

#include "core/base/timeline.hpp"
#include "core/record/store/store.hpp"
#include "sim/unit/unit_make.hpp"

namespace eyelevel::sim {

// A store in which the n-th writing (from 1; 0: none) and every one after it fails.
class FullStore final : public record::Store {
 public:
  FullStore(record::Store& inner, int full_from) : inner_(inner), full_from_(full_from) {}

  std::string reserve_run(base::UtcTime now) override { return inner_.reserve_run(now); }
  void write(std::string_view run, std::span<const event::Event> events) override;
  void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) override {
    inner_.bring(run, events, program);
  }
  bool drop(std::string_view run, std::span<const record::BookEntry> said) override { return inner_.drop(run, said); }
  bool thin_out(std::string_view run, std::span<const std::int64_t> captures,
                std::span<const record::BookEntry> said) override {
    return inner_.thin_out(run, captures, said);
  }
  std::vector<record::RunSummary> runs(const record::RunQuery& query) override { return inner_.runs(query); }
  record::RunSummary run(std::string_view id) override { return inner_.run(id); }
  std::vector<event::Event> events(std::string_view run, record::Samples samples) override {
    return inner_.events(run, samples);
  }
  std::vector<record::EventText> event_texts(std::string_view run, std::int64_t after) override {
    return inner_.event_texts(run, after);
  }
  std::shared_ptr<const signal::Waveform> capture(std::string_view run, std::int64_t event_number) override {
    return inner_.capture(run, event_number);
  }
  std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t event_number) override {
    return inner_.enclosure(run, event_number);
  }
  std::vector<record::BookEntry> note(std::span<const record::BookEntry> entries) override {
    return inner_.note(entries);
  }
  void bring_entries(std::span<const record::BookEntry> entries) override { inner_.bring_entries(entries); }
  std::vector<record::BookEntry> book(const record::BookQuery& query) override { return inner_.book(query); }
  std::vector<record::ReadingRow> readings(const record::ReadingQuery& query) override {
    return inner_.readings(query);
  }
  std::vector<record::Tally> tallies(const record::TallyQuery& query) override { return inner_.tallies(query); }
  bool works_inline() const override { return inner_.works_inline(); }
  std::string name() const override { return inner_.name(); }

 private:
  record::Store& inner_;
  int full_from_;
  std::atomic<int> written_ = 0;
};

// Time goes on as it does; the calendar jumps once.
class JumpingClock final : public base::Timeline {
 public:
  JumpingClock(base::Timeline& inner, const Surroundings& how) : inner_(inner), how_(how) {}

  base::Duration now() const override { return inner_.now(); }
  base::UtcTime utc() const override;
  task<> sleep_until(base::Duration when) override { return inner_.sleep_until(when); }
  void run(task<> main) override { inner_.run(std::move(main)); }

 protected:
  void hold() override;
  void release() override;

 private:
  base::Timeline& inner_;
  Surroundings how_;
  std::mutex mutex_;
  int held_ = 0;
  std::optional<Hold> hold_;
};

}  // namespace eyelevel::sim
