// SPDX-License-Identifier: Apache-2.0
#include "core/service/bench_view.hpp"

#include <boost/json.hpp>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using test::Daemon;
namespace json = boost::json;

TEST_CASE("bench view: what stopped a bench from working is shown with what to do", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.until("idle");
    co_return;
  });
  const auto view = service::bench_json(*daemon.owner, daemon.owner->person());
  CHECK(view.at("state") == "stopped working");
  CHECK(view.at("trouble").is_null());
}

TEST_CASE("bench view: a job keeps its values by name and its moment", "[service]") {
  record::Job job;
  job.id = 4;
  job.given = {{"target", "1.20 V"}};
  job.state = record::JobState::under_way;
  job.asked = base::UtcTime(std::chrono::milliseconds(1'900'000'000'123));
  const auto view = service::job_json(job);
  CHECK(view.at("set").at("target") == "1.20 V");
  CHECK(view.at("state") == "under way");
  CHECK(view.at("asked_utc") == "2030-03-17T17:46:40.123Z");
}

TEST_CASE("bench view: an explanation holds every part, and what is asked before and during the run", "[service]") {
  const auto sequence = test::checked(test::around("  - prompt: Ready?\n    within: 1 min\n"));
  const auto view = service::explanation_json(sequence, sequence::explain(sequence, test::language()));
  CHECK(view.at("opening").as_array().size() == 2);
  CHECK(view.at("steps").as_array().size() == 1);
  CHECK(view.at("closing").as_array().size() == 1);
  CHECK(view.at("asked").at(0).at("text") == "Ready?");
  CHECK(view.at("asked_at_start").as_array().empty());
}
