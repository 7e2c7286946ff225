// SPDX-License-Identifier: Apache-2.0
// Jobs: what is to be run, on which bench, in which order, and what became of it. They stand in the store beside the
// runs, and any number of daemons may work on one queue. A job is taken by one of them, for a time that it renews; its
// run is known from before the run begins, so that after a crash nothing is done twice. Whoever does not renew loses
// the job: it waits again when its run has told nothing yet, and the name that was reserved for the run is withdrawn,
// so that a late daemon cannot begin it any more. All calls block (store thread); each is all or nothing and survives a
// kill when it returned. Throws Error(not_recording) when nothing can be written, Error(no_connection) when the server
// cannot be reached (the call may be made again), Error(not_found) for an unknown job.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/event/event.hpp"

namespace eyelevel::record {

enum class JobState {
  waiting,
  under_way,
  interrupted,  // the daemon ended in the middle of its run; somebody must resume or close it
  done,         // its run has ended, however
  withdrawn,    // before it began
  refused,      // could not begin: `why`
};
// "waiting", "under way", ...
std::string_view name_of(JobState state);
std::optional<JobState> job_state(std::string_view name);

struct Job {
  std::int64_t id = 0;
  std::string bench;     // that is to do it or does it; empty while it waits for any bench that fits it
  bool for_any = false;  // it named no bench
  std::string sequence;  // path in the folder of sequences
  std::string serial;
  std::string model;  // path in the folder of models; may be empty
  std::vector<event::GivenAtStart> given;
  std::int64_t priority = 0;  // higher ones first, then as they were asked
  std::string asked_by;
  base::UtcTime asked{};
  JobState state = JobState::waiting;
  std::string run;           // empty until one was reserved for it
  std::string goes_on_from;  // the run that it resumes; may be empty
  std::string why;           // of a refused or interrupted one
  std::string owner;         // the daemon that does it, while it is under way
};

struct JobQuery {
  std::optional<std::string> bench{};
  std::optional<JobState> state{};
  std::size_t at_most = 1000;
};

struct JobCount {
  std::string bench;
  JobState state = JobState::waiting;
  std::int64_t count = 0;
};

// How long a job is a daemon's unless it renews that. On a server the server's clock decides, not `now`.
struct Lease {
  base::UtcTime now;
  std::chrono::milliseconds length;
};

// Whether a bench can do a job that names none. Called on the store thread.
using Fits = std::function<bool(const Job&)>;

// For one daemon, its owner.
class Jobs {
 public:
  Jobs() = default;
  Jobs(const Jobs&) = delete;
  Jobs& operator=(const Jobs&) = delete;
  virtual ~Jobs() = default;

  // Whose daemon takes jobs here.
  virtual const std::string& owner() const = 0;

  // Gives the job its number; its state is waiting.
  virtual std::int64_t add(const Job& job) = 0;
  // The next of a bench that does nothing, now under way; empty when none waits. One that it took already, of which it
  // did not hear because the connection broke, comes first.
  virtual std::optional<Job> take(std::string_view bench, const Fits& fits, const Lease& lease) = 0;
  // The run that is to be made for it. False: the job was given back meanwhile and is not this daemon's any more.
  virtual bool give_run(std::int64_t id, std::string_view run) = 0;
  // What became of one that this daemon does, or that is interrupted; false as above.
  virtual bool put(std::int64_t id, JobState state, std::string_view why) = 0;
  // Of a waiting one; false when it does not wait any more.
  virtual bool withdraw(std::int64_t id) = 0;
  virtual bool set_priority(std::int64_t id, std::int64_t priority) = 0;

  // All that this daemon has under way stay its own for the lease.
  virtual void renew(const Lease& lease) = 0;
  // Takes every job whose lease is over from its daemon, whoever that is, and marks the bench as left. How many.
  virtual std::size_t give_back(base::UtcTime now) = 0;
  // The bench was left with its instruments in a state that nobody knows.
  virtual bool is_left(std::string_view bench) = 0;
  // It was brought to safe; its interrupted jobs say `why`.
  virtual void put_safe(std::string_view bench, std::string_view why) = 0;
  // True: another daemon may have added a job since this was asked last. A hint, never a promise: look now and then
  // too.
  virtual bool heard() = 0;

  virtual Job find(std::int64_t id) = 0;
  // Interrupted and under way, then waiting in the order in which they will be taken, then the newest ended ones.
  virtual std::vector<Job> list(const JobQuery& query) = 0;
  // Of those that are not over, however many there are.
  virtual std::vector<JobCount> counts() = 0;
};

// In the same place as the store (a file or a connection string), which brings it up to date: open that first.
std::unique_ptr<Jobs> open_jobs(const std::string& store, const std::string& owner);

}  // namespace eyelevel::record
