// SPDX-License-Identifier: Apache-2.0
// Calls of one program over one TCP connection (RFC 5531). Replies are matched by their transaction id: one that
// answers an earlier call, which was given up meanwhile, is passed over and counted. Socket errors come as
// boost::system::system_error, broken or refused calls as WireFault. One call at a time; one thread.
#pragma once

#include <boost/asio/ip/tcp.hpp>

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "core/base/task.hpp"
#include "instruments/transport/vxi11/record_stream.hpp"

namespace eyelevel::transport::vxi11 {

// The other side understood the call and did not carry it out: program, version or procedure are not there.
class CallRefused : public WireFault {
 public:
  using WireFault::WireFault;
};

class RpcClient {
 public:
  RpcClient(boost::asio::ip::tcp::socket connected, std::uint32_t program, std::uint32_t version,
            std::size_t most_reply_bytes);

  // The results of a call; at most most_small_bytes of them.
  task<std::string> call(std::uint32_t procedure, std::string arguments);
  // In two steps, for bulk data. Behind the arguments goes opaque data in two pieces, whose length stands at the end
  // of the arguments; padding is added.
  task<> send(std::uint32_t procedure, std::string_view arguments, std::string_view data = {},
              std::string_view more_data = {});
  // Returns with the stream at the results of the call sent last.
  task<> await_reply();
  // Sent, not waited for, and no answer expected.
  bool send_at_once(std::uint32_t procedure, std::string_view arguments) noexcept;

  // A call is under way that nobody waits for any more.
  bool is_unanswered() const { return unanswered_; }
  // Unusable: a call went out in part, or the peer's bytes are no records.
  bool is_broken() const { return broken_ || stream.is_cut(); }
  std::size_t late_replies() const { return late_replies_; }

  RecordStream stream;

 private:
  void begin_call(std::uint32_t procedure, std::string_view arguments);

  std::uint32_t program_;
  std::uint32_t version_;
  std::uint32_t xid_ = 0;
  std::string record_;
  bool unanswered_ = false;
  bool broken_ = false;
  std::size_t late_replies_ = 0;
};

}  // namespace eyelevel::transport::vxi11
