// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/rpc_client.hpp"

#include <fmt/format.h>

#include <boost/asio/buffer.hpp>

#include <array>
#include <utility>

#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;

RpcClient::RpcClient(asio::ip::tcp::socket connected, std::uint32_t program, std::uint32_t version,
                     std::size_t most_reply_bytes)
    : stream(std::move(connected), most_reply_bytes), program_(program), version_(version) {}

task<std::string> RpcClient::call(std::uint32_t procedure, std::string arguments) {
  co_await send(procedure, arguments);
  co_await await_reply();
  std::string results(most_small_bytes, '\0');
  std::size_t have = 0;
  while (have < results.size()) {
    const std::size_t count = co_await stream.read_some(results.data() + have, results.size() - have);
    if (count == 0) break;
    have += count;
  }
  results.resize(have);
  co_return results;
}

void RpcClient::begin_call(std::uint32_t procedure, std::string_view arguments) {
  begin_record(record_);
  append_call(record_, {.xid = ++xid_, .program = program_, .version = version_, .procedure = procedure});
  record_ += arguments;
}

task<> RpcClient::send(std::uint32_t procedure, std::string_view arguments, std::string_view data,
                       std::string_view more_data) {
  static constexpr std::array<char, 4> zeros{};
  begin_call(procedure, arguments);
  const std::size_t bytes = data.size() + more_data.size();
  const std::size_t padding = padding_of(bytes);
  end_record(record_, bytes + padding);
  co_await stream.write({asio::buffer(record_), asio::buffer(data.data(), data.size()),
                         asio::buffer(more_data.data(), more_data.size()), asio::buffer(zeros, padding)});
  unanswered_ = true;
}

task<> RpcClient::await_reply() {
  try {
    for (;;) {
      co_await stream.next_record();
      std::array<char, most_auth_bytes + 24> bytes;
      std::size_t have = 0;
      FoundReply head;
      while ((head = read_reply_head(std::string_view(bytes.data(), have))).need > 0) {
        co_await stream.read_exactly(bytes.data() + have, head.need, "the reply's head");
        have += head.need;
      }
      if (!head.fault.empty()) throw WireFault(head.fault);
      if (head.xid != xid_) {
        ++late_replies_;
        continue;
      }
      unanswered_ = false;
      if (!head.refused.empty()) throw CallRefused(head.refused);
      co_return;
    }
  } catch (const CallRefused&) {
    throw;
  } catch (const WireFault&) {
    broken_ = true;
    throw;
  }
}

bool RpcClient::send_at_once(std::uint32_t procedure, std::string_view arguments) noexcept {
  if (is_broken()) return false;
  begin_call(procedure, arguments);
  end_record(record_);
  return stream.write_at_once(record_);
}

}  // namespace eyelevel::transport::vxi11
