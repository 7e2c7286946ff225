// SPDX-License-Identifier: Apache-2.0
// Sends all of some buffers: at once what the system has room for, which mostly is everything and costs no turn of the
// loop, and the rest in pieces as large as there is room for, where Asio's async_write would cut it to 64 KiB.
#pragma once

#include <boost/asio/buffer.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/error_code.hpp>

#include <algorithm>
#include <array>
#include <cstddef>

#include "core/base/task.hpp"

namespace eyelevel::transport::detail {

template <std::size_t N>
void drop_front(std::array<boost::asio::const_buffer, N>& parts, std::size_t count) {
  for (auto& part : parts) {
    const std::size_t here = std::min(count, part.size());
    part += here;
    count -= here;
  }
}

// `sent` counts on whether it ends well or not. Leaves the stream non-blocking where it can be.
template <class Stream, std::size_t N>
task<boost::system::error_code> send_all(Stream& stream, std::array<boost::asio::const_buffer, N> parts,
                                         std::size_t& sent) {
  boost::system::error_code error;
  sent = 0;
  if constexpr (requires { stream.non_blocking(); }) {
    if (!stream.non_blocking()) stream.non_blocking(true, error);
    if (!error) sent = stream.write_some(parts, error);
    if (error == boost::asio::error::would_block) error.clear();
    drop_front(parts, sent);
  }
  while (!error && boost::asio::buffer_size(parts) > 0) {
    const std::size_t count =
        co_await stream.async_write_some(parts, boost::asio::redirect_error(boost::asio::use_awaitable, error));
    sent += count;
    drop_front(parts, count);
  }
  co_return error;
}

template <class Stream, std::size_t N>
task<boost::system::error_code> send_all(Stream& stream, std::array<boost::asio::const_buffer, N> parts) {
  std::size_t sent = 0;
  co_return co_await send_all(stream, parts, sent);
}

}  // namespace eyelevel::transport::detail
