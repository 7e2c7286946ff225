// SPDX-License-Identifier: Apache-2.0
// The standard headers with Asio's coroutines; precompiled once. Not to be included by hand.
#pragma once

#include "cmake/pch_std.hpp"

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
