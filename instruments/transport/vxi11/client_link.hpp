// SPDX-License-Identifier: Apache-2.0
// The client's link of VXI-11, for its own source files: client.cpp has the connection, the messages and the clear,
// client_beside.cpp what VXI-11 does beside them. One thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/ip/address.hpp>

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "instruments/transport/vxi11/client.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/request_listener.hpp"
#include "instruments/transport/vxi11/rpc_client.hpp"

namespace eyelevel::transport::vxi11 {

inline constexpr std::uint32_t usual_write_bytes = 1024;  // what every instrument takes at least (rule B.6.3)

class Vxi11Link final : public Link {
 public:
  Vxi11Link(boost::asio::any_io_executor executor, ResourceName name, Options options)
      : executor_(std::move(executor)),
        name_(std::move(name)),
        text_(name_.canonical()),
        options_(std::move(options)),
        step_(options_.step ? options_.step : std::make_shared<std::string>()) {}
  ~Vxi11Link() override { close(); }

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
  void close() noexcept override;
  std::string ignored() const override {
    const std::size_t late = core_ ? core_->late_replies() : 0;
    return answers_to_others(late - std::min(late, late_before_));
  }

 private:
  struct Outcome {
    DeviceError error = DeviceError::none;
    std::uint32_t value = 0;  // the word behind the error, if there is one
  };
  struct Piece {
    DeviceError error = DeviceError::none;
    bool ends = false;
    std::size_t bytes = 0;
  };

  std::shared_ptr<RpcClient> core() const;
  task<Outcome> call(Procedure procedure, std::string arguments, std::string_view doing);
  task<Outcome> generic(Procedure procedure, std::string_view doing);
  task<Written> write_part(std::string_view data, std::string_view terminator, bool end);
  task<Piece> read_part(Buffer& into, std::size_t& have, std::size_t wanted);
  task<bool> clear_in_band();
  task<bool> abort_call();
  task<> enable_requests();
  void finish(Buffer& answer, std::size_t most) const;
  void drop() noexcept;

  [[noreturn]] void translate(std::string_view doing);
  [[noreturn]] void refused(DeviceError error, std::string_view doing, bool nothing_happened);
  [[noreturn]] void bad(std::string why) const;

  boost::asio::any_io_executor executor_;
  ResourceName name_;
  std::string text_;
  Options options_;
  std::shared_ptr<std::string> step_;
  // Shared with the call under way, so that close() may come at any time.
  std::shared_ptr<RpcClient> core_, abort_;
  std::unique_ptr<RequestListener> requests_;
  boost::asio::ip::address peer_;
  std::int32_t link_ = 0;
  std::uint32_t abort_port_ = 0;
  std::uint32_t most_write_bytes_ = usual_write_bytes;
  bool usable_ = false;         // connected, and the link is known there
  bool clear_pending_ = false;  // a clear was tried over this connection and did not end
  bool locked_ = false;
  std::size_t late_before_ = 0;  // replies to other calls, before the last message
  bool wants_requests_ = false;
};

}  // namespace eyelevel::transport::vxi11
