// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/back_off.hpp"

#include <algorithm>

namespace eyelevel::service {

base::Duration BackOff::wait(std::string_view key, base::Duration now) const {
  const auto at = tries_.find(key);
  if (at == tries_.end() || at->second.count < free_tries) return {};
  const int doubled = std::min(at->second.count - free_tries, 20);
  const auto pause = std::min<base::Duration>(std::chrono::seconds(1) * (std::int64_t{1} << doubled), longest);
  return std::max<base::Duration>(at->second.last + pause - now, {});
}

void BackOff::tried(std::string_view key, base::Duration now) {
  std::erase_if(tries_, [&](const auto& one) { return one.second.last + forgotten_after < now; });
  auto at = tries_.find(key);
  if (at == tries_.end()) {
    if (tries_.size() >= most)
      tries_.erase(std::min_element(tries_.begin(), tries_.end(),
                                    [](const auto& a, const auto& b) { return a.second.last < b.second.last; }));
    at = tries_.emplace(key, Tries{}).first;
  }
  ++at->second.count;
  at->second.last = now;
}

void BackOff::succeeded(std::string_view key) {
  if (const auto at = tries_.find(key); at != tries_.end()) tries_.erase(at);
}

}  // namespace eyelevel::service
