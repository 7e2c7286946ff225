// SPDX-License-Identifier: Apache-2.0
// The journal of one run: collects the events of a step and stores them in one transaction before anyone is told.
// A file store works on the store thread while the run waits; a memory store works at once. Once a commit has failed,
// the journal refuses everything after it with the same Error(not_recording); nothing is tried again.
// Belongs to the loop that runs the sequence. The store and the store thread must outlive it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/event/event.hpp"
#include "core/record/journal/store_thread.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {

class RunJournal final : public event::Journal {
 public:
  // Reserves an id for the run. `thread` may be null when the store works inline.
  RunJournal(Store& store, base::Timeline& timeline, StoreThread* thread);

  // Goes into Event::run.
  const std::string& run() const { return run_; }

  task<> append(const event::Event& event) override;
  task<> commit() override;

 private:
  void refuse_if_broken() const;

  Store& store_;
  base::Timeline& timeline_;
  StoreThread* thread_;
  std::string run_;
  std::vector<event::Event> pending_;
  std::optional<base::ErrorRecord> broken_;
};

}  // namespace eyelevel::record
