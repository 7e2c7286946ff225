// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/record_stream.hpp"

#include <fmt/format.h>

#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include <algorithm>

#include "instruments/transport/detail/send_all.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
namespace {

constexpr std::size_t chunk_bytes = std::size_t{16} << 10U;
constexpr std::size_t step_bytes = std::size_t{1} << 20U;  // memory is made as bytes come, not as they are announced

}  // namespace

RecordStream::RecordStream(asio::ip::tcp::socket connected, std::size_t most_record_bytes)
    : socket(std::move(connected)), marks_(most_record_bytes), chunk_(chunk_bytes) {
  boost::system::error_code only_speed;
  // Without this, short calls wait for an acknowledgement of up to 40 ms.
  socket.set_option(asio::ip::tcp::no_delay(true), only_speed);
  socket.set_option(asio::socket_base::keep_alive(true), only_speed);
}

task<> RecordStream::next_record() {
  std::array<char, 4096> passed;
  if (!marks_.untouched())
    while (co_await read_some(passed.data(), passed.size()) > 0) {
    }
  marks_.begin();
}

task<std::size_t> RecordStream::read_some(char* into, std::size_t most_bytes) {
  while (!marks_.record_ended() && most_bytes > 0) {
    if (marks_.needs_mark()) {
      if (begin_ == end_) co_await fill();
      begin_ += marks_.mark(std::string_view(chunk_.data() + begin_, end_ - begin_));
      if (!marks_.fault().empty()) throw WireFault(marks_.fault());
      continue;
    }
    const std::size_t wanted = std::min(most_bytes, marks_.fragment_left());
    std::size_t count = 0;
    if (begin_ < end_) {
      count = std::min(wanted, end_ - begin_);
      std::copy_n(chunk_.data() + begin_, count, into);
      begin_ += count;
    } else if (wanted >= chunk_bytes) {
      count = co_await socket.async_read_some(asio::buffer(into, wanted), asio::use_awaitable);
    } else {
      co_await fill();
      continue;
    }
    marks_.took(count);
    co_return count;
  }
  co_return 0;
}

task<> RecordStream::read_exactly(char* into, std::size_t bytes, std::string_view what) {
  for (std::size_t have = 0; have < bytes;) {
    const std::size_t count = co_await read_some(into + have, bytes - have);
    if (count == 0) throw WireFault(fmt::format("the record ends {} bytes before the end of {}", bytes - have, what));
    have += count;
  }
}

task<> RecordStream::read_rest(std::string& into) {
  into.clear();
  for (;;) {
    const std::size_t have = into.size();
    into.resize(have + std::clamp(marks_.fragment_left(), std::size_t{256}, step_bytes));
    const std::size_t count = co_await read_some(into.data() + have, into.size() - have);
    into.resize(have + count);
    if (count == 0) co_return;
  }
}

task<> RecordStream::write(const std::array<asio::const_buffer, 4>& buffers) {
  std::size_t bytes = 0;
  const auto error = co_await detail::send_all(socket, buffers, bytes);
  if (!error) co_return;
  cut_ = cut_ || bytes > 0;
  throw boost::system::system_error(error);
}

bool RecordStream::write_at_once(std::string_view bytes) noexcept {
  boost::system::error_code error;
  socket.non_blocking(true, error);
  if (error || cut_) return false;
  const std::size_t sent = socket.write_some(asio::buffer(bytes.data(), bytes.size()), error);
  cut_ = sent > 0 && sent < bytes.size();
  return !error && sent == bytes.size();
}

void RecordStream::close() noexcept {
  boost::system::error_code closed;  // nothing can be done about a failing close
  socket.close(closed);
}

task<> RecordStream::fill() {
  begin_ = end_ = 0;
  end_ = co_await socket.async_read_some(asio::buffer(chunk_), asio::use_awaitable);
}

}  // namespace eyelevel::transport::vxi11
