// SPDX-License-Identifier: Apache-2.0
// A daemon without a network in simulated time: a fake bench, a store in a file, its owner and its API. A test is a
// coroutine that asks and answers; afterwards the owner is stopped and the run under way closes.
#pragma once

#include <boost/json/value.hpp>

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "core/record/store/jobs.hpp"
#include "core/service/api.hpp"
#include "core/service/bench_owner.hpp"
#include "core/service/rehearsals.hpp"
#include "core/service/retention.hpp"
#include "tests/core/sequence/harness.hpp"
#include "tests/support/temporary_folder.hpp"

namespace eyelevel::test {

// The messages of a feed.
class Collected final : public service::http::Outlet {
 public:
  task<> text(std::string message) override;
  task<> binary(std::string message) override;
  // Of one kind: "bench", "event", "missed".
  std::vector<boost::json::value> of(std::string_view kind) const;
  std::vector<std::string> all;
  base::Gong came;
};

struct Daemon {
  FakeBench bench;
  TemporaryFolder folder;
  std::unique_ptr<record::Store> store;
  std::unique_ptr<record::Jobs> jobs;
  record::StoreThread store_thread;
  service::House house;
  std::unique_ptr<service::BenchOwner> owner;
  std::vector<service::BenchOwner*> owners;
  service::Ledger ledger;
  service::Access access;
  service::Rehearsals rehearsals;
  service::Retention retention;  // older than 90 days and than 730 days, at 03:30
  std::unique_ptr<service::Api> api;

  Daemon();
  Daemon(const Daemon&) = delete;
  Daemon& operator=(const Daemon&) = delete;
  ~Daemon();

  // A sequence without anything to be asked, and one that asks twice; both in the folder.
  static constexpr const char* quiet = "quiet.yaml";
  static constexpr const char* asking = "asking.yaml";
  void add_sequence(const std::string& file, const std::string& text) const;

  // Runs `script` beside the owner's work.
  void run(const std::function<task<>(Daemon&)>& script);
  // Without the owner's work.
  void run_alone(const std::function<task<>(Daemon&)>& script);

  // `more`: headers besides host and content-type.
  task<service::http::Response> ask(std::string method, std::string path, std::string body = {},
                                    std::map<std::string, std::string> more = {});
  task<boost::json::value> get(std::string path);
  // The id of the new job.
  task<std::int64_t> add_job(std::string sequence, std::string serial = "LF2-00417");
  // Until the bench is in that state, or asks.
  task<> until(std::string state);
  task<std::int64_t> until_asked();
  task<> until_job(std::int64_t job, record::JobState state);
  // The job of a daemon that was killed in the middle of its run: `begun` is told, `closed` is not.
  std::int64_t left_in_the_middle(bool is_reserved, bool is_begun, bool is_closed);
};

}  // namespace eyelevel::test
