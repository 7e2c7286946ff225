// SPDX-License-Identifier: Apache-2.0
#include "core/service/close_run.hpp"

#include <utility>
#include <vector>

namespace eyelevel::service {

void close_run(record::Store& store, const std::string& run, base::UtcTime now) {
  if (!store.run(run).ended.empty()) return;
  const auto events = store.events(run, record::Samples::none);
  base::ErrorRecord why;
  why.code = base::ErrorCode::stopped;
  why.message = "the daemon ended in the middle of the run; what it had announced until then is in the record";
  event::Event broken;
  broken.run = run;
  broken.number = events.empty() ? 1 : events.back().number + 1;
  broken.time_s = events.empty() ? 0 : events.back().time_s;
  broken.utc = now;
  event::Event closed = broken;
  closed.number += 1;
  broken.body =
      event::BrokenOff{event::Place{.part = "", .number = 0, .verb = "run", .text = "the run"}, std::move(why)};
  closed.body = event::Closed{"stopped", std::nullopt};
  store.write(run, std::vector{std::move(broken), std::move(closed)});
}

}  // namespace eyelevel::service
