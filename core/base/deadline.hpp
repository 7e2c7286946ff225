// SPDX-License-Identifier: Apache-2.0
// One deadline for a whole operation, and cancellation that waits for what it cancelled. Written here once because
// Asio 1.81 has no cancel_after and its `||` waits for the first success instead of the first end.
#pragma once

#include <optional>
#include <utility>

#include "core/base/timeline.hpp"

namespace eyelevel::base {

// Runs `work`; when `limit` passes first, cancels it, waits until it has ended, and returns false. True: work ended in
// time; its exception is rethrown. Cancellation of the caller reaches `work`.
task<bool> finished_within(Timeline& timeline, Duration limit, task<> work);

// The same for work with a result: empty when the limit passed.
template <class T>
task<std::optional<T>> result_within(Timeline& timeline, Duration limit, task<T> work) {
  std::optional<T> result;
  auto keep = [](std::optional<T>& into, task<T> inner) -> task<> { into = co_await std::move(inner); };
  const bool in_time = co_await finished_within(timeline, limit, keep(result, std::move(work)));
  if (!in_time) result.reset();
  co_return result;
}

}  // namespace eyelevel::base
