// SPDX-License-Identifier: Apache-2.0
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using test::Daemon;

// The form is held against an independent parser by tests/core/program/daemon.py.
TEST_CASE("metrics: each bench has one state, and jobs are counted by state", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    co_await d.add_job(Daemon::quiet);
    co_await d.add_job(Daemon::quiet);
    const auto response = co_await d.ask("GET", "/metrics");
    CHECK(response.type.starts_with("application/openmetrics-text"));
    CHECK(response.body.find("eyelevel_jobs{bench=\"test bench\",state=\"waiting\"} 2\n") != std::string::npos);
    CHECK(response.body.find("eyelevel_bench_state{bench=\"test bench\",eyelevel_bench_state=\"idle\"} 1\n") !=
          std::string::npos);
    CHECK(response.body.ends_with("# EOF\n"));
  });
}
