// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/core/record/jobs_places.hpp"

using namespace eyelevel;
using record::JobState;
using test::take;

namespace {

using OnServer = test::Kept<test::OnServer>;

// As when the server is stopped, or the network goes.
void cut_all(const OnServer& kept) {
  kept.place.schema.run(
      "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE application_name = 'eyelevel'");
}

bool is_cut(record::Jobs& jobs) {
  try {
    jobs.heard();
    return false;
  } catch (const base::Error& e) {
    return e.record().code == base::ErrorCode::no_connection;
  }
}

}  // namespace

TEST_CASE("jobs on a server: one that another daemon takes just now is passed over, not waited for", "[record]") {
  const OnServer kept;
  const auto first = kept.add("one");
  const auto second = kept.add("one");
  pqxx::connection other(kept.place.where());
  pqxx::work taking(other);
  taking.exec_params1("SELECT id FROM job WHERE id = $1 FOR UPDATE", first);
  CHECK(take(*kept.jobs, "one")->id == second);
}

TEST_CASE("jobs on a server: a broken connection is said as such, and the same call may be made again", "[record]") {
  const OnServer kept;
  const auto id = kept.add("one");
  cut_all(kept);
  try {
    take(*kept.jobs, "one");
    FAIL("it was taken");
  } catch (const base::Error& e) {
    CHECK(e.record().code == base::ErrorCode::no_connection);
  }
  CHECK(take(*kept.jobs, "one")->id == id);
}

TEST_CASE("jobs on a server: a job that one daemon adds is heard of by another", "[record]") {
  const OnServer kept;
  const auto others = kept.open("another daemon");
  while (others->heard()) continue;  // its first connection counts as news
  kept.add("one");
  // The notice has left the server with the commit; it arrives as soon as the socket has it.
  while (!others->heard()) continue;
  CHECK_FALSE(others->heard());
  cut_all(kept);
  while (!is_cut(*others)) continue;  // the last words of the server come first
  CHECK(others->heard());             // whatever was told while nobody listened
}
