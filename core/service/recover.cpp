// SPDX-License-Identifier: Apache-2.0
// What a bench does first: whatever an earlier daemon left in the middle is brought to safe, before a job is taken.
#include <fmt/format.h>

#include <boost/asio/this_coro.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/service/bench_owner.hpp"

namespace eyelevel::service {

using record::Job;
using record::JobState;

namespace {

// How far the run of a job had come.
enum class Left { not_begun, in_the_middle, closed };

Left left_by(record::Store& store, const std::string& run) {
  if (run.empty()) return Left::not_begun;
  try {
    return store.run(run).ended.empty() ? Left::in_the_middle : Left::closed;
  } catch (const base::Error& error) {
    if (error.record().code == base::ErrorCode::not_found) return Left::not_begun;  // reserved, nothing told yet
    throw;
  }
}

}  // namespace

task<> BenchOwner::recover() {
  std::vector<Job> left;
  co_await house_.store_thread.done(
      house_.timeline, [&] { left = house_.jobs.list({.bench = setting_.bench.name, .state = JobState::under_way}); });
  for (const Job& job : left) co_await recover(job);
}

task<> BenchOwner::recover(const Job& job) {
  Left left = Left::closed;
  co_await house_.store_thread.done(house_.timeline, [&] { left = left_by(house_.store, job.run); });
  if (left == Left::closed) {
    co_await put(job.id, JobState::done, "");
    co_return;
  }
  // Begun or not: the instruments may have been opened and set before the first event was told.
  const std::string unsafe = job.run.empty() ? "" : co_await made_safe();
  if (left == Left::not_begun) {
    co_await put(job.id, JobState::waiting, "");
    co_return;
  }
  co_await put(job.id, JobState::interrupted,
               unsafe.empty() ? "the daemon ended in the middle of the run; every instrument was made safe"
                              : "the daemon ended in the middle of the run; NOT every instrument could be made safe: " +
                                    unsafe + "; look, and switch it off by hand");
}

// What could not be made safe, and why; empty: everything was.
task<std::string> BenchOwner::made_safe() {
  std::string unsafe;
  for (const auto& entry : setting_.bench.instruments) {
    const std::string why = co_await made_safe(entry);
    if (!why.empty()) unsafe += (unsafe.empty() ? "" : "; ") + why;
  }
  co_return unsafe;
}

task<std::string> BenchOwner::made_safe(const bench::InstrumentEntry& entry) {
  constexpr base::Duration within = std::chrono::seconds(10);
  std::string why;
  std::unique_ptr<bench::Instrument> instrument;
  try {
    instrument = co_await setting_.open(entry);
    co_await instrument->greet(within);
    co_await instrument->make_safe(within);
  } catch (const base::Error& error) {
    why = fmt::format("{}: {}", entry.role, error.record().message);
  }
  if (instrument) instrument->close();
  co_return why;
}

}  // namespace eyelevel::service
