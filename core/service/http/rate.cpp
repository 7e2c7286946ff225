// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/rate.hpp"

#include <algorithm>

namespace eyelevel::service::http {

double Rate::left_of(const Left& left, base::Duration now) const {
  const double seconds = std::chrono::duration<double>(now - left.seen).count();
  return std::min(burst_, left.requests + seconds * each_second_);
}

bool Rate::take(std::string_view who, base::Duration now) {
  constexpr std::size_t many = 1000;
  // Whoever has the whole burst again need not be remembered.
  if (left_.size() > many) std::erase_if(left_, [&](const auto& one) { return left_of(one.second, now) >= burst_; });
  auto at = left_.find(who);
  if (at == left_.end()) at = left_.emplace(who, Left{burst_, now}).first;
  at->second = {left_of(at->second, now), now};
  if (at->second.requests < 1) return false;
  at->second.requests -= 1;
  return true;
}

}  // namespace eyelevel::service::http
