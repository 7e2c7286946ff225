// SPDX-License-Identifier: Apache-2.0
// The server's half of one HiSLIP session (IVI-6.1): both connections of one client, one device. Messages are executed
// in their order on the synchronous connection; status, locks, device clear and the like are answered on the
// asynchronous one meanwhile. It owns itself while anything is under way. One thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/cancellation_signal.hpp>

#include <cstddef>
#include <cstdint>
#include <deque>
#include <exception>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "core/base/gong.hpp"
#include "core/base/timeline.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/hislip/channel.hpp"
#include "instruments/transport/hislip/exchange.hpp"
#include "instruments/transport/hislip/security.hpp"

namespace eyelevel::transport::hislip {

class Conversation : public std::enable_shared_from_this<Conversation> {
 public:
  struct Settings {
    std::size_t most_message_bytes = 0;  // of one program message, all its parts together
    bool prefer_overlapped = false;
    std::shared_ptr<const Security> security = nullptr;  // none: no encryption
  };

  Conversation(base::Timeline& timeline, std::shared_ptr<Device> device, Settings settings, Channel synchronous,
               std::function<void()> on_end);

  void start();                       // after InitializeResponse
  void attach(Channel asynchronous);  // after AsyncInitializeResponse
  bool is_attached() const { return attached_; }
  // Tells the client on both connections as far as they take it, and ends.
  void fatal(FatalError code, std::string_view text);
  void end() noexcept;

 private:
  using Self = std::shared_ptr<Conversation>;
  static task<> run_synchronous(Self self);
  static task<> run_asynchronous(Self self);
  static task<> run_service_requests(Self self);
  static task<> run_outbox(Self self);
  void start_synchronous();
  void synchronous_ended(const std::exception_ptr& error);

  // The synchronous connection; false: the conversation is over.
  task<bool> next_synchronous(Header& header);
  task<bool> take_synchronous(const Header& header);
  task<bool> take_data(const Header& header);
  task<bool> execute(std::uint32_t id);
  task<bool> respond(std::uint32_t id, bool more_to_execute);
  task<bool> send_response(std::uint32_t id);
  task<bool> finish_clear();
  task<> wait_for_access();
  task<bool> complain(NonFatalError code, std::string_view text);
  void finished(std::uint32_t id);

  // The asynchronous connection.
  task<bool> take_asynchronous(const Header& header);
  task<bool> take_maximum_size();
  task<bool> take_lock(const Header& header);
  void take_status_query(const Header& header);
  void take_remote_local(const Header& header);
  void begin_clear();
  void post(Header header, std::string payload = {});
  void start_outbox();
  void post_error(NonFatalError code, std::string_view text) {
    post({MessageType::error, static_cast<std::uint8_t>(code)}, std::string(text));
  }
  void answer_lock(LockAnswer answer) { post({MessageType::async_lock_response, static_cast<std::uint8_t>(answer)}); }
  // One of them at a time: what must wait for others or for messages that are still to be executed.
  void start_slow(task<> work);
  static task<> lock_slowly(Self self, std::string key, base::Duration wait);
  static task<> release_in_order(Self self, std::uint32_t id);
  static task<> remote_local_in_order(Self self, std::uint32_t id, std::uint8_t request);
  static task<> take_the_lock(Self self, std::string key);
  bool is_to_come(std::uint32_t id) const;
  void release();
  void switch_remote_local(std::uint8_t request);

  // Encryption.
  bool is_refused_in_the_clear(const Header& header, const Channel& channel);
  task<bool> secure_asynchronous();
  task<bool> secure_synchronous();
  task<bool> unsecure_asynchronous(std::uint32_t last_sent);
  task<bool> unsecure_synchronous();
  task<bool> change_asynchronous(Header answer, bool secure);
  task<bool> take_login(const Header& header);

  boost::asio::any_io_executor executor_;
  base::Timeline& timeline_;
  std::shared_ptr<Device> device_;
  Settings settings_;
  Channel sync_;
  Channel async_;
  std::function<void()> on_end_;
  AccessLock::Holder holder_;
  ServerExchange exchange_;
  RemoteSwitches switches_;

  std::string message_;      // the parts of a program message so far
  bool discarding_ = false;  // until the end of a message that was refused
  Reply reply_;
  std::size_t response_limit_ = most_payload_bytes;
  std::uint32_t last_finished_ = before_first_id;
  base::Gong progress_;
  std::uint64_t clears_ = 0;

  std::deque<std::pair<Header, std::string>> outbox_;
  bool posting_ = false;
  base::Gong outbox_sent_;
  bool is_mechanism_right_ = false;  // of the login under way
  bool logged_in_ = false;
  bool attached_ = false;
  bool clearing_ = false;
  bool service_announced_ = false;  // and not asked for the status since
  bool slow_ = false;
  bool synchronous_runs_ = false;
  bool service_requests_run_ = false;
  bool ended_ = false;
  boost::asio::cancellation_signal stop_synchronous_;
  boost::asio::cancellation_signal stop_service_requests_;
  boost::asio::cancellation_signal stop_slow_;
};

}  // namespace eyelevel::transport::hislip
