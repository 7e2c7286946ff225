// SPDX-License-Identifier: Apache-2.0
// What happens at one bench, for any number of viewers. The bench tells and never waits: a viewer only remembers how
// far it has come. Events of the last runs are kept here, older ones are in the store; of what the bench looks like,
// and of its looks, only the newest is kept. One loop.
#pragma once

#include <cstdint>
#include <deque>
#include <memory>
#include <string>
#include <vector>

#include "core/base/gong.hpp"
#include "core/event/event.hpp"

namespace eyelevel::service {

// How far somebody has come.
struct Position {
  std::string run;
  std::int64_t number = 0;  // of the last event seen
};

class Feed {
 public:
  // An event that is in the record.
  void tell(const event::Event& event);
  // The bench has changed; `text` is the whole of it.
  void tell_bench(std::string text);

  // How the signal looks: a text and a picture. Only the newest is kept.
  void tell_look(std::string text, std::string picture);
  // A job was added, moved, or has another state.
  void tell_jobs();

  // Of one run, in the order of the numbers after `number`; empty with `is_kept` false: ask the store.
  struct Kept {
    bool is_kept = true;
    std::vector<std::shared_ptr<const std::string>> events;
    std::int64_t last = 0;
  };
  Kept after(const Position& position, std::size_t at_most) const;

  // Run under way, or the last one; empty before the first.
  const std::string& run() const { return run_; }
  std::int64_t last_number() const { return last_number_; }
  // Runs that began after this one since the daemon started; all of them for a run that is not known here.
  std::vector<std::string> runs_after(const std::string& run) const;

  const std::string& bench() const { return bench_; }
  std::uint64_t bench_version() const { return bench_version_; }
  std::uint64_t jobs_version() const { return jobs_version_; }

  const std::string& look() const { return look_; }
  const std::string& look_picture() const { return look_picture_; }
  std::uint64_t look_version() const { return look_version_; }

  // Somebody who watches, for as long as it lives.
  class Watching {
   public:
    explicit Watching(Feed& feed) : feed_(feed) { ++feed_.viewers_; }
    Watching(const Watching&) = delete;
    Watching& operator=(const Watching&) = delete;
    ~Watching() { --feed_.viewers_; }

   private:
    Feed& feed_;
  };
  bool is_watched() const { return viewers_ > 0; }

  task<> changed() { return changed_.wait(); }

 private:
  struct Told {
    std::string run;
    std::int64_t number = 0;
    std::shared_ptr<const std::string> text;
  };
  static constexpr std::size_t kept_most = 512;  // some 300 bytes each
  static constexpr std::size_t runs_most = 256;

  std::deque<Told> told_;
  std::deque<std::string> runs_;
  std::string run_;
  std::int64_t last_number_ = 0;
  std::string bench_ = "null";
  std::uint64_t bench_version_ = 0;
  std::uint64_t jobs_version_ = 0;
  std::string look_;
  std::string look_picture_;
  std::uint64_t look_version_ = 0;
  int viewers_ = 0;
  base::Gong changed_;
};

}  // namespace eyelevel::service
