// SPDX-License-Identifier: Apache-2.0
#include "core/service/feed.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using service::Feed;

namespace {

event::Event noted(const std::string& run, std::int64_t number) {
  event::Event event;
  event.run = run;
  event.number = number;
  event.body = event::Noted{{}, "note"};
  return event;
}

}  // namespace

TEST_CASE("feed: gives the events after a position, in order, so many at once", "[service]") {
  Feed feed;
  for (int i = 1; i <= 5; ++i) feed.tell(noted("a", i));
  const auto kept = feed.after({"a", 2}, 2);
  CHECK(kept.is_kept);
  REQUIRE(kept.events.size() == 2);
  CHECK(kept.events[0]->find("\"number\":3") != std::string::npos);
  CHECK(kept.last == 4);
  CHECK(feed.after({"a", 5}, 2).events.empty());
  CHECK(feed.after({"a", 5}, 2).is_kept);
}

TEST_CASE("feed: what it holds no more is to be had from the store", "[service]") {
  Feed feed;
  for (int i = 1; i <= 5000; ++i) feed.tell(noted("a", i));
  CHECK_FALSE(feed.after({"a", 3}, 10).is_kept);
  CHECK(feed.after({"a", 4990}, 10).is_kept);
  CHECK_FALSE(feed.after({"earlier", 0}, 10).is_kept);
}

TEST_CASE("feed: knows which runs came after one", "[service]") {
  Feed feed;
  for (const auto* run : {"a", "b", "c"}) feed.tell(noted(run, 1));
  CHECK(feed.run() == "c");
  CHECK(feed.runs_after("a") == std::vector<std::string>{"b", "c"});
  CHECK(feed.runs_after("c").empty());
  CHECK(feed.runs_after("before this daemon") == std::vector<std::string>{"a", "b", "c"});
  CHECK(feed.after({"a", 0}, 10).events.size() == 1);
}

TEST_CASE("feed: the bench has a new version only when something in it is different", "[service]") {
  Feed feed;
  feed.tell_bench("{}");
  const auto version = feed.bench_version();
  feed.tell_bench("{}");
  CHECK(feed.bench_version() == version);
  feed.tell_bench("{\"state\":\"idle\"}");
  CHECK(feed.bench_version() == version + 1);
}
