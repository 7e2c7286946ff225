// SPDX-License-Identifier: Apache-2.0
// The coroutine type of the house: one task per conversation, read top to bottom. Waiting goes through Timeline.
#pragma once

#include <boost/asio/awaitable.hpp>

namespace eyelevel {

template <class T = void>
using task = boost::asio::awaitable<T>;

}  // namespace eyelevel
