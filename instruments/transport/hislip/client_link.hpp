// SPDX-License-Identifier: Apache-2.0
// The client's link of HiSLIP, for its own source files: client.cpp has the connections, the messages and the device
// clear, client_beside.cpp what is asked on the asynchronous connection meanwhile, client_secure.cpp encryption and
// login. One thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/system/error_code.hpp>

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/transport/hislip/channel.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "instruments/transport/hislip/exchange.hpp"

namespace eyelevel::transport::hislip {

struct LockHolders {
  std::uint32_t clients = 0;
  bool exclusive = false;  // one of them
};

class HislipLink final : public Link {
 public:
  HislipLink(const boost::asio::any_io_executor& executor, ResourceName name, ClientOptions options)
      : executor_(executor),
        name_(std::move(name)),
        text_(name_.canonical()),
        options_(std::move(options)),
        sync_(executor),
        async_(executor) {}

  const std::string& resource_name() const override { return text_; }

  task<> open();
  task<> write(std::string_view message) override;
  task<> read(Buffer& into, std::size_t most) override;
  task<> clear() override;
  task<> trigger() override;
  task<std::uint8_t> status_byte() override;
  task<> wait_for_service() override;
  task<> lock(std::string key, base::Duration wait) override;
  task<> unlock() override;
  task<> remote_local(RemoteLocal what) override;
  task<std::string> why_silent() override;
  std::string ignored() const override { return answers_to_others(ignored_); }
  void close() noexcept override {
    sync_.close();
    async_.close();
  }

 private:
  task<bool> initialise(std::uint16_t version);
  task<> initialise_async();
  task<> device_clear();
  task<> finish_sending(std::uint8_t features);
  task<> drop_until_cleared();
  task<> see_both_interruptions();
  task<bool> take_data(const Header& header, Buffer& into, std::size_t& have, std::size_t most);
  task<LockHolders> who_locks();

  bool wants_encryption() const { return !options_.fingerprint.empty(); }
  bool agrees_on_encryption(const Header& header);
  task<> start_encryption(const Header& initialize_response);
  task<> shake_hands(Connection which);
  task<> log_in();
  task<> end_encryption();
  task<Header> next_login(std::string& words);
  [[noreturn]] void refuse_login(std::string why);

  Channel& at(Connection which) { return which == Connection::synchronous ? sync_ : async_; }
  task<> send(Connection which, Header header, std::string_view payload = {}, std::string_view more = {});
  task<Header> next(Connection which);
  task<Header> next_async(MessageType wanted);
  [[noreturn]] void broken(Connection which, const boost::system::error_code& error);
  task<> complaint(Connection which, Header header);
  [[noreturn]] void unexpected(Connection which, const Header& header, std::string why, std::string expected);
  [[noreturn]] void refuse_answer(std::string why, std::string_view received, std::string expected);
  base::ErrorCode code() const { return opening_ ? base::ErrorCode::no_connection : base::ErrorCode::connection_lost; }
  void require_open();

  boost::asio::any_io_executor executor_;
  ResourceName name_;
  std::string text_;
  ClientOptions options_;
  Channel sync_;
  Channel async_;
  ClientExchange exchange_;
  std::string_view doing_ = "while connecting";  // for messages
  std::uint16_t version_ = version_1_0;
  std::uint16_t session_ = 0;
  std::size_t payload_bytes_ = most_payload_bytes;  // what the server takes in one message
  bool opening_ = false;
  bool must_reopen_ = true;  // a device clear would not bring back a known state
  bool lock_asked_ = false;  // and not answered yet
  bool service_asked_ = false;
  bool holds_exclusive_ = false, holds_shared_ = false;
  std::size_t ignored_ = 0;      // answers to other messages since the last one was sent
  std::uint8_t fatal_code_ = 0;  // of the last fatal error
};

}  // namespace eyelevel::transport::hislip
