// SPDX-License-Identifier: Apache-2.0
// What VXI-11 does beside the messages: triggers, serial polls, service requests, locks, remote and local.
#include <fmt/format.h>

#include <boost/system/error_code.hpp>

#include <algorithm>
#include <utility>

#include "instruments/transport/error.hpp"
#include "instruments/transport/vxi11/client_link.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
namespace {

std::uint32_t milliseconds(base::Duration duration) {
  const auto count = std::chrono::ceil<std::chrono::milliseconds>(duration).count();
  return static_cast<std::uint32_t>(std::clamp<std::int64_t>(count, 0, UINT32_MAX));
}

}  // namespace

task<> Vxi11Link::trigger() {
  const auto outcome = co_await generic(Procedure::device_trigger, "device_trigger");
  if (outcome.error == DeviceError::not_supported) {
    co_await write("*TRG");
  } else if (outcome.error != DeviceError::none) {
    refused(outcome.error, "device_trigger", true);
  }
}

task<std::uint8_t> Vxi11Link::status_byte() {
  const auto outcome = co_await generic(Procedure::device_readstb, "device_readstb");
  if (outcome.error == DeviceError::not_supported) co_return co_await Link::status_byte();
  if (outcome.error != DeviceError::none) refused(outcome.error, "device_readstb", true);
  co_return static_cast<std::uint8_t>(outcome.value & 0xFFU);  // an unsigned char in the RPCL
}

// Opens the back channel and asks for requests over it.
task<> Vxi11Link::enable_requests() {
  const auto core = this->core();
  boost::system::error_code gone;
  auto own = core->stream.socket.local_endpoint(gone).address();
  if (own.is_v6() && own.to_v6().is_v4_mapped()) own = asio::ip::make_address_v4(asio::ip::v4_mapped, own.to_v6());
  if (!own.is_v4()) refuse("service requests over IPv6 (VXI-11 has room for an IPv4 address only)");
  requests_ = std::make_unique<RequestListener>(executor_, own);
  std::string arguments;
  append(arguments, InterruptChannel{.address = own.to_v4().to_uint(), .port = requests_->port()});
  const auto channel = co_await call(Procedure::create_intr_chan, std::move(arguments), "create_intr_chan");
  if (channel.error == DeviceError::not_supported) refuse("service requests: the instrument does not offer them");
  // "Established already": the instrument keeps the channel that it has, which can only be ours.
  if (channel.error != DeviceError::none && channel.error != DeviceError::channel_established)
    fail(base::ErrorCode::bad_input, text_,
         fmt::format("the instrument cannot connect back to {} port {} of this computer: {}", own.to_string(),
                     requests_->port(), describe(channel.error)),
         "let the instrument through this computer's firewall, or ask *STB? from time to time");
  arguments.clear();
  append(arguments, EnableRequests{.link = link_, .enable = true, .handle = fmt::format("link {}", link_)});
  const auto enabled = co_await call(Procedure::device_enable_srq, std::move(arguments), "device_enable_srq");
  if (enabled.error != DeviceError::none) refused(enabled.error, "device_enable_srq", true);
  wants_requests_ = true;
}

task<> Vxi11Link::wait_for_service() {
  if (!wants_requests_) co_await enable_requests();
  if (!usable_ || !co_await requests_->wait())
    fail(base::ErrorCode::connection_lost, text_, "the connection is closed", "open the instrument again");
}

task<> Vxi11Link::lock(std::string key, base::Duration wait) {
  if (!key.empty()) refuse("shared locks; lock it without a key");
  if (locked_)
    fail(base::ErrorCode::bad_input, text_, "the lock is held already", "release it before it is taken again");
  std::string arguments;
  append(arguments, Lock{.link = link_,
                         .flags = wait > base::Duration(0) ? flag_wait_lock : 0,
                         .lock_timeout_ms = milliseconds(wait)});
  const auto outcome = co_await call(Procedure::device_lock, std::move(arguments), "device_lock");
  if (outcome.error != DeviceError::none) refused(outcome.error, "device_lock", true);
  locked_ = true;
}

task<> Vxi11Link::unlock() {
  if (!locked_) fail(base::ErrorCode::bad_input, text_, "no lock is held", "lock first");
  std::string arguments;
  append_link(arguments, link_);
  const auto outcome = co_await call(Procedure::device_unlock, std::move(arguments), "device_unlock");
  if (outcome.error != DeviceError::none && outcome.error != DeviceError::no_lock)
    refused(outcome.error, "device_unlock", true);
  locked_ = false;
}

task<> Vxi11Link::remote_local(RemoteLocal what) {
  if (what == RemoteLocal::lockout) refuse("local lockout apart from remote; ask for remote");
  const bool remote = what == RemoteLocal::remote;
  const auto doing = remote ? "device_remote" : "device_local";
  const auto outcome = co_await generic(remote ? Procedure::device_remote : Procedure::device_local, doing);
  if (outcome.error != DeviceError::none) refused(outcome.error, doing, true);
}

}  // namespace eyelevel::transport::vxi11
