// SPDX-License-Identifier: Apache-2.0
// What a bench does first: whatever an earlier daemon left in the middle is brought to safe, before a job is taken.
#include <fmt/format.h>

#include <algorithm>
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

std::string safety_text(const std::string& unsafe) {
  if (unsafe.empty()) return "every instrument was made safe";
  return "NOT every instrument could be made safe: " + unsafe + "; look, and switch it off by hand";
}

}  // namespace

task<> BenchOwner::recover() {
  std::vector<Job> left;
  do {
    co_await reached([&] {
      house_.jobs.give_back(house_.timeline.utc());
      left = house_.jobs.list({.bench = setting_.bench.name, .state = JobState::under_way});
    });
  } while (co_await waits_for_another(left));
  for (const Job& job : left) co_await recover(job);
  co_await recover_bench();
}

// A daemon that did a job on a bench of this name may still live: its instruments are left alone until it is done, or
// has not renewed its lease.
task<bool> BenchOwner::waits_for_another(const std::vector<Job>& left) {
  const auto other =
      std::find_if(left.begin(), left.end(), [this](const Job& job) { return job.owner != house_.jobs.owner(); });
  if (other == left.end() || is_stopping_) co_return false;
  tell_trouble(base::Error(base::ErrorCode::not_found,
                           fmt::format("bench {}: another daemon, {}, has job {} under way on it", setting_.bench.name,
                                       other->owner, other->id),
                           "give one of the two benches another name, or wait until that one has ended")
                   .record());
  co_await pause_before_next_try();
  co_return true;
}

task<> BenchOwner::recover(const Job& job) {
  Left left = Left::closed;
  if (!co_await reached([&] { left = left_by(house_.store, job.run); })) co_return;
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
  co_await put(job.id, JobState::interrupted, "the daemon ended in the middle of the run; " + safety_text(unsafe));
}

// Its jobs were given back while no daemon had this bench.
task<> BenchOwner::recover_bench() {
  bool is_left = false;
  co_await reached([&] { is_left = house_.jobs.is_left(setting_.bench.name); });
  if (!is_left || is_stopping_) co_return;
  const std::string unsafe = co_await made_safe();
  co_await reached([&] {
    house_.jobs.put_safe(setting_.bench.name,
                         "the daemon went silent in the middle of the run; " + safety_text(unsafe));
  });
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
