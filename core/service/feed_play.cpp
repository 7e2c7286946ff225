// SPDX-License-Identifier: Apache-2.0
#include "core/service/feed_play.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"

namespace eyelevel::service {

namespace json = boost::json;

namespace {

constexpr std::size_t at_once = 64;

task<> send_event(http::Outlet& outlet, const std::string& event) {
  return outlet.text(fmt::format(R"({{"kind":"event","event":{}}})", event));
}

// Those of the store; a run that it does not know is forgotten.
task<bool> send_stored(House& house, Position& position, http::Outlet& outlet) {
  std::vector<event::Event> events;
  bool is_known = true;
  co_await house.store_thread.done(house.timeline, [&] {
    try {
      events = house.store.events(position.run, record::Samples::none);
    } catch (const base::Error& error) {
      if (error.record().code != base::ErrorCode::not_found) throw;
      is_known = false;
    }
  });
  if (!is_known) position = {};
  bool any = false;
  for (const auto& event : events) {
    if (event.number <= position.number) continue;
    co_await send_event(outlet, record::text_of(record::to_json(event)));
    position.number = event.number;
    any = true;
  }
  co_return any || !is_known;
}

// True: the position has moved.
task<bool> send_events(House& house, const Feed& feed, Position& position, http::Outlet& outlet) {
  if (position.run.empty()) {
    if (feed.run().empty()) co_return false;
    position.run = feed.run();
  }
  const auto kept = feed.after(position, at_once);
  for (const auto& event : kept.events) co_await send_event(outlet, *event);
  if (kept.last > position.number) {
    position.number = kept.last;
    co_return true;
  }
  if (!kept.is_kept && co_await send_stored(house, position, outlet)) co_return true;
  if (position.run == feed.run() || feed.run().empty()) co_return false;
  auto runs = feed.runs_after(position.run);
  if (runs.size() > 1) {
    json::array missed;
    for (std::size_t i = 0; i + 1 < runs.size(); ++i) missed.emplace_back(runs[i]);
    co_await outlet.text(json::serialize(json::object{{"kind", "missed"}, {"runs", std::move(missed)}}));
  }
  position = {feed.run(), 0};
  co_return true;
}

}  // namespace

task<> play_feed(House& house, BenchOwner& owner, Position position, http::Outlet& outlet) {
  Feed& feed = owner.feed();
  std::uint64_t seen = 0;
  std::uint64_t jobs_seen = feed.jobs_version();
  // Whatever is struck while something is sent is seen before the next waiting.
  for (;;) {
    if (feed.bench_version() != seen) {
      seen = feed.bench_version();
      co_await outlet.text(fmt::format(R"({{"kind":"bench","bench":{}}})", feed.bench()));
      continue;
    }
    if (feed.jobs_version() != jobs_seen) {
      jobs_seen = feed.jobs_version();
      co_await outlet.text(R"({"kind":"jobs"})");
      continue;
    }
    if (co_await send_events(house, feed, position, outlet)) continue;
    if (feed.bench_version() == seen && feed.jobs_version() == jobs_seen) co_await feed.changed();
  }
}

}  // namespace eyelevel::service
