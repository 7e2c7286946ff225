// SPDX-License-Identifier: Apache-2.0
// The server's side of one core channel (VXI-11 rev 1.0, section B.6), and what all channels of a server share. Calls
// are answered in their order; while one waits, the connection is read ahead, so that a client that goes away ends the
// wait. Of the errors of section B: 1 is never used, 8 answers device_docmd, which is for gateways.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <cstdint>
#include <deque>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "core/base/gong.hpp"
#include "core/base/timeline.hpp"
#include "instruments/transport/detail/bell.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"
#include "instruments/transport/vxi11/exchange.hpp"
#include "instruments/transport/vxi11/record_stream.hpp"
#include "instruments/transport/vxi11/request_sender.hpp"
#include "instruments/transport/vxi11/server.hpp"

namespace eyelevel::transport::vxi11 {

struct ServedDevice {
  std::shared_ptr<Device> device;
  std::uint64_t requests = 0;  // for service, since the device was made
  std::uint64_t polled = 0;    // as many of them had come at the last serial poll
};

struct ServedLink {
  std::int32_t id = 0;
  std::shared_ptr<ServedDevice> served;
  AccessLock::Holder holder = 0;
  std::shared_ptr<Exchange> exchange;
  std::shared_ptr<RequestSender> sender;  // of its connection; empty without an interrupt channel
  bool requests_enabled = false;
  std::string handle;
  bool in_call = false;  // a call on this link waits: device_abort ends it
  bool aborted = false;

  Device& device() const { return *served->device; }
  void request_service() const {
    if (requests_enabled && sender && sender->is_open()) sender->post(handle);
  }
};

struct Shared {
  Shared(boost::asio::any_io_executor on, base::Timeline& time, Listen how)
      : executor(std::move(on)), timeline(time), listen(std::move(how)) {}

  boost::asio::any_io_executor executor;
  base::Timeline& timeline;
  Listen listen;
  std::uint16_t abort_port = 0;
  std::map<std::string, std::shared_ptr<ServedDevice>, std::less<>> devices;
  std::map<std::int32_t, std::shared_ptr<ServedLink>> links;
  std::int32_t next_link = 0;
};

class CoreConversation : public std::enable_shared_from_this<CoreConversation> {
 public:
  CoreConversation(boost::asio::ip::tcp::socket socket, std::shared_ptr<Shared> shared);
  // Until the client is gone.
  static task<> run(std::shared_ptr<CoreConversation> self);

 private:
  using Link = std::shared_ptr<ServedLink>;

  static task<> answer_all(std::shared_ptr<CoreConversation> self);
  task<> read_ahead();
  void end() noexcept;

  task<bool> answer(const std::string& record);
  task<> carry_out(Procedure procedure, XdrReader& arguments);
  template <class Arguments>
  bool got(XdrReader& reader, Arguments& arguments);
  bool got_link(XdrReader& reader, std::int32_t& link);
  void result(DeviceError error);
  Link find(std::int32_t id) const;

  task<> create_link(XdrReader& reader);
  task<> device_write(XdrReader& reader);
  task<> device_read(XdrReader& reader);
  task<> generic(Procedure procedure, XdrReader& reader);
  task<> device_lock(XdrReader& reader);
  void device_unlock(XdrReader& reader);
  void device_enable_srq(XdrReader& reader);
  void destroy_link(XdrReader& reader);
  task<> create_intr_chan(XdrReader& reader);
  void destroy_intr_chan();

  template <class Ready>
  task<DeviceError> wait_until(Link link, base::Gong& gong, std::uint32_t limit_ms, DeviceError too_late, Ready ready);
  task<DeviceError> admitted(Link link, std::uint32_t flags, std::uint32_t lock_timeout_ms);
  task<DeviceError> lock(Link link, bool wait, std::uint32_t lock_timeout_ms);
  void forget(const ServedLink& link) noexcept;

  RecordStream stream_;
  std::shared_ptr<Shared> shared_;
  std::map<std::int32_t, Link> links_;
  std::shared_ptr<RequestSender> sender_;
  std::deque<std::string> inbox_;
  detail::Bell inbox_bell_, room_bell_;
  boost::asio::cancellation_signal stop_;  // of answer_all()
  bool gone_ = false;
  bool close_ = false;  // after this reply

  std::uint32_t xid_ = 0;
  std::string reply_;
  Link read_link_;  // whose output goes behind the reply
  std::size_t read_bytes_ = 0;
};

}  // namespace eyelevel::transport::vxi11
