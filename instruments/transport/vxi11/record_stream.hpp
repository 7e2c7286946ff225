// SPDX-License-Identifier: Apache-2.0
// A TCP connection that carries RPC records (RFC 5531, 11), both sides: fragments are joined, large payloads go
// straight into the caller's memory. Where it stands in the stream survives a cancelled read, so that next_record()
// finds the next beginning. Socket errors come as boost::system::system_error, bytes that are no record as WireFault.
// One thread.
#pragma once

#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <array>
#include <cstddef>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/task.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"

namespace eyelevel::transport::vxi11 {

// What the peer sent breaks RPC; the words name the byte or field.
class WireFault : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

class RecordStream {
 public:
  RecordStream(boost::asio::ip::tcp::socket connected, std::size_t most_record_bytes);

  // Passes over what is left of the record under way; does not wait for the next one's first byte.
  task<> next_record();
  // At least one byte of the record, or 0 at its end.
  task<std::size_t> read_some(char* into, std::size_t most_bytes);
  // WireFault that names `what` when the record ends before.
  task<> read_exactly(char* into, std::size_t bytes, std::string_view what);
  // All that is left of the record.
  task<> read_rest(std::string& into);
  // Everything of the buffers. When it throws, is_cut() says whether a part went out: then the stream is useless.
  task<> write(const std::array<boost::asio::const_buffer, 4>& buffers);
  bool is_cut() const { return cut_; }
  // Without waiting: true when all bytes went into the system's buffer.
  bool write_at_once(std::string_view bytes) noexcept;
  void close() noexcept;

  boost::asio::ip::tcp::socket socket;

 private:
  task<> fill();

  RecordMarks marks_;
  std::vector<char> chunk_;
  std::size_t begin_ = 0, end_ = 0;  // what of the chunk is not yet taken
  bool cut_ = false;
};

}  // namespace eyelevel::transport::vxi11
