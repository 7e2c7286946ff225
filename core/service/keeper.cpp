// SPDX-License-Identifier: Apache-2.0
#include "core/service/keeper.hpp"

#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::service {

namespace {

// A notice of another daemon is looked for often; whoever missed it looks for himself now and then.
constexpr base::Duration beat = std::chrono::milliseconds(250);
constexpr base::Duration looks_every = std::chrono::seconds(2);
// Trying a server that is away may take seconds, for which the store thread has other work.
constexpr base::Duration after_a_failure = std::chrono::seconds(4);

struct News {
  std::size_t given_back = 0;
  bool heard = false;
};

}  // namespace

task<> keep(House& house, const std::vector<BenchOwner*>& owners, std::function<void()> catch_up) {
  base::Duration renewed = house.timeline.now(), looked = renewed, pause = beat;
  for (;;) {
    co_await house.timeline.sleep(std::exchange(pause, beat));
    const auto now = house.timeline.now();
    const bool is_to_renew = now - renewed >= lease_renewed_every;
    const bool is_to_look = now - looked >= looks_every;
    News news;
    try {
      co_await house.store_thread.done(house.timeline, [&] {
        if (is_to_look) catch_up();
        if (is_to_renew) house.jobs.renew({house.timeline.utc(), lease_length});
        if (is_to_look) news.given_back = house.jobs.give_back(house.timeline.utc());
        news.heard = house.jobs.heard();
      });
    } catch (const base::Error& error) {
      // Tried again with the next beat. A bench that needs the store meets the same error and shows it.
      if (error.record().code == base::ErrorCode::defect) throw;
      pause = after_a_failure;
      continue;
    }
    if (is_to_renew) renewed = now;
    if (is_to_look) looked = now;
    for (auto* owner : owners) {
      if (news.heard || news.given_back > 0)
        owner->wake();
      else if (is_to_look)
        owner->look_for_jobs();
    }
  }
}

}  // namespace eyelevel::service
