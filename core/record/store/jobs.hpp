// SPDX-License-Identifier: Apache-2.0
// Jobs: what is to be run, on which bench, in which order, and what became of it. They stand in the store beside the
// runs. A job is taken once; its run is known from before the run begins, so that after a crash nothing is done twice.
// All calls block (store thread); each is all or nothing and survives a kill when it returned. Throws
// Error(not_recording) when nothing can be written, Error(not_found) for an unknown job.
#pragma once

#include <cstdint>
#include <filesystem>
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
  std::string bench;
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

class Jobs {
 public:
  Jobs() = default;
  Jobs(const Jobs&) = delete;
  Jobs& operator=(const Jobs&) = delete;
  virtual ~Jobs() = default;

  // Gives the job its number; its state is waiting.
  virtual std::int64_t add(const Job& job) = 0;
  // The next of a bench, now under way; empty when none waits.
  virtual std::optional<Job> take(std::string_view bench) = 0;
  // The run that is to be made for it.
  virtual void give_run(std::int64_t id, std::string_view run) = 0;
  virtual void put(std::int64_t id, JobState state, std::string_view why) = 0;
  // Of a waiting one; false when it does not wait any more.
  virtual bool withdraw(std::int64_t id) = 0;
  virtual bool set_priority(std::int64_t id, std::int64_t priority) = 0;

  virtual Job find(std::int64_t id) = 0;
  // Interrupted and under way, then waiting in the order in which they will be taken, then the newest ended ones.
  virtual std::vector<Job> list(const JobQuery& query) = 0;
  // Of those that are not over, however many there are.
  virtual std::vector<JobCount> counts() = 0;
};

// In the same file as the store, which brings it up to date: open that first.
std::unique_ptr<Jobs> open_jobs(const std::filesystem::path& store);

}  // namespace eyelevel::record
