// SPDX-License-Identifier: Apache-2.0
// The whole way, over the API, is in api_jobs_test.cpp.
#include "core/service/resume.hpp"

#include "tests/core/service/harness.hpp"

using namespace eyelevel;

TEST_CASE("resume: a run that finished, and one that came to no step for it, have nothing to be gone on with",
          "[service]") {
  for (const bool is_closed : {true, false}) {
    test::Daemon daemon;
    const auto job = daemon.left_in_the_middle(true, true, is_closed);
    CHECK_THROWS_WITH(service::resumed(*daemon.store, daemon.jobs->find(job).run),
                      Catch::Contains(is_closed ? "nothing is left of it" : "came to no step"));
  }
}

TEST_CASE("resume: another sequence than the one that was run is refused", "[service]") {
  const auto sequence = test::checked(test::around("  - note: x\n"));
  service::Resumed from;
  from.run = "2030-01-07-1";
  from.begun.source = sequence.source;
  CHECK_NOTHROW(service::require_same(sequence, from));
  from.begun.source += "\n";
  CHECK_THROWS_WITH(service::require_same(sequence, from),
                    Catch::Contains("is not the sequence that run 2030-01-07-1"));
}
