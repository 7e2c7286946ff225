// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/access_lock.hpp"

namespace eyelevel::transport {

bool AccessLock::may_use(Holder holder) const {
  if (exclusive_) return exclusive_ == holder;
  return shared_.empty() || shared_.contains(holder);
}

std::size_t AccessLock::holders() const {
  const bool exclusive_only = exclusive_ && !shared_.contains(*exclusive_);
  return shared_.size() + (exclusive_only ? 1 : 0);
}

bool AccessLock::take(Holder holder, std::string_view key) {
  if (exclusive_ && exclusive_ != holder) return false;
  if (key.empty()) {
    // Over a shared lock the exclusive one is for a holder of the shared one only.
    if (!shared_.empty() && !shared_.contains(holder)) return false;
    exclusive_ = holder;
    return true;
  }
  if (!shared_.empty() && shared_.begin()->second != key) return false;
  shared_.emplace(holder, key);
  return true;
}

AccessLock::Released AccessLock::release(Holder holder) {
  auto what = Released::nothing;
  if (exclusive_ == holder) {
    exclusive_.reset();
    what = Released::exclusive;
  } else if (shared_.erase(holder) > 0) {
    what = Released::shared;
  }
  if (what != Released::nothing) released.strike();
  return what;
}

void AccessLock::forget(Holder holder) {
  while (release(holder) != Released::nothing) {
  }
}

}  // namespace eyelevel::transport
