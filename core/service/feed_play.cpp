// SPDX-License-Identifier: Apache-2.0
#include "core/service/feed_play.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>
#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::service {

namespace json = boost::json;

namespace {

constexpr std::size_t at_once = 64;

task<> send_event(http::Outlet& outlet, const std::string& event) {
  return outlet.text(fmt::format(R"({{"kind":"event","event":{}}})", event));
}

// Those of the store; a run that it does not know is forgotten.
task<bool> send_stored(House& house, Position& position, http::Outlet& outlet) {
  std::vector<record::EventText> events;
  bool is_known = true;
  co_await house.store_thread.done(house.timeline, [&] {
    try {
      events = house.store.event_texts(position.run, position.number);
    } catch (const base::Error& error) {
      if (error.record().code != base::ErrorCode::not_found) throw;
      is_known = false;
    }
  });
  if (!is_known) position = {};
  for (const auto& event : events) {
    co_await send_event(outlet, event.text);
    position.number = event.number;
  }
  co_return !events.empty() || !is_known;
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

task<> send_look(const Feed& feed, std::uint64_t seen, std::uint64_t& dropped, http::Outlet& outlet) {
  const std::uint64_t passed_over = feed.look_version() - seen - 1;
  dropped += passed_over;
  const std::string picture = feed.look_picture();
  co_await outlet.text(feed.look());
  if (!picture.empty()) co_await outlet.binary(picture);
  if (passed_over > 0) co_await outlet.text(fmt::format(R"({{"kind":"dropped","looks":{}}})", dropped));
}

}  // namespace

task<> play_feed(House& house, BenchOwner& owner, Position position, http::Outlet& outlet) {
  Feed& feed = owner.feed();
  const Feed::Watching watching(feed);
  std::uint64_t bench_seen = 0, jobs_seen = feed.jobs_version(), looks_seen = feed.look_version(), dropped = 0;
  // Whatever is struck while something is sent is seen before the next waiting.
  for (;;) {
    if (feed.bench_version() != bench_seen) {
      bench_seen = feed.bench_version();
      co_await outlet.text(fmt::format(R"({{"kind":"bench","bench":{}}})", feed.bench()));
    } else if (feed.jobs_version() != jobs_seen) {
      jobs_seen = feed.jobs_version();
      co_await outlet.text(R"({"kind":"jobs"})");
    } else if (feed.look_version() != looks_seen) {
      const auto seen = std::exchange(looks_seen, feed.look_version());
      co_await send_look(feed, seen, dropped, outlet);
    } else if (!co_await send_events(house, feed, position, outlet)) {
      const bool is_new =
          feed.bench_version() != bench_seen || feed.jobs_version() != jobs_seen || feed.look_version() != looks_seen;
      if (!is_new) co_await feed.changed();
    }
  }
}

}  // namespace eyelevel::service
