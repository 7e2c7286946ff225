// SPDX-License-Identifier: Apache-2.0
// A run at a running daemon, as if it were here: asks for the job, tells what happens as it happens, brings the
// questions of the bench to the person who answers here, and hands an interrupt on. The daemon keeps the record.
#pragma once

#include <boost/json/object.hpp>
#include <boost/json/value.hpp>

#include <functional>
#include <optional>
#include <string>

#include "core/bench/operator.hpp"
#include "core/event/event.hpp"
#include "core/program/daemon_client/client.hpp"

namespace eyelevel::program {

struct FollowedSetting {
  base::Timeline& timeline;
  DaemonClient& client;
  std::string bench;
  bench::Operator& person;
  bool starts_by_itself = false;  // whoever began the program has said that the job may begin
  bool answers_here = true;       // false: this is no seat of that bench, so questions are only shown
  event::Listener& story;
};

struct FollowedResult {
  std::int64_t job = 0;
  std::string run;       // empty: it was withdrawn before it began
  std::string sequence;  // its name
  std::string ended;     // "finished" or "stopped"
  std::optional<metrology::Judgement> judgement;
  bool is_failed = false;  // here: an answer was missing, which is told already
};

// `job`: the body of POST /api/1/jobs. Throws base::Error when the daemon refuses the job, or cannot be reached for
// half a minute; the run goes on there then. SIGINT and SIGTERM stop the run and wait for its closing, a second one
// ends the program; Ctrl-\ stops after the step under way, Ctrl-Z pauses and goes on.
task<FollowedResult> follow_run(FollowedSetting setting, boost::json::object job);

}  // namespace eyelevel::program
