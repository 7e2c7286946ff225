// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <boost/asio/cancellation_state.hpp>

namespace eyelevel::sequence {

// To be asked in the coroutine itself, of its `this_coro::cancellation_state`: another one cannot be awaited in the
// cancelled state.
inline bool is_cancelled(const boost::asio::cancellation_state& state) {
  return state.cancelled() != boost::asio::cancellation_type::none;
}

}  // namespace eyelevel::sequence
