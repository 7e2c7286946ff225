// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/run_journal.hpp"

#include <fmt/format.h>

#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::record {

using base::Error;
using base::ErrorCode;

RunJournal::RunJournal(Store& store, base::Timeline& timeline, StoreThread* thread)
    : store_(store), timeline_(timeline), thread_(thread), run_(store.reserve_run(timeline.utc())) {
  if (thread == nullptr && !store.works_inline()) {
    throw Error(ErrorCode::defect, fmt::format("store {}: a journal over a file needs the store thread", store.name()));
  }
}

task<> RunJournal::append(const event::Event& event) {
  refuse_if_broken();
  if (event.run != run_) {
    throw Error(ErrorCode::defect, fmt::format("journal of run {}: an event of run \"{}\" came", run_, event.run));
  }
  pending_.push_back(event);
  co_return;
}

task<> RunJournal::commit() {
  refuse_if_broken();
  if (pending_.empty()) co_return;
  const auto events = std::exchange(pending_, {});
  try {
    if (store_.works_inline()) {
      store_.write(run_, events);
    } else {
      co_await thread_->done(timeline_, [this, &events] { store_.write(run_, events); });
    }
  } catch (const Error& error) {
    broken_ = error.record();
    throw;
  }
}

void RunJournal::refuse_if_broken() const {
  if (broken_) throw Error(*broken_);
}

}  // namespace eyelevel::record
