// SPDX-License-Identifier: Apache-2.0
// HTTP/1.1 and WebSocket at one address, within stated limits. Knows nothing of what is asked: requests go to the
// handlers. One loop, one thread. A client that is slow, silent or wrong is cut; it never holds up another one.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "core/base/timeline.hpp"
#include "core/service/http/message.hpp"

namespace eyelevel::service::http {

struct Limits {
  std::size_t header_bytes = 16 * 1024;
  std::size_t body_bytes = std::size_t{1} << 20U;
  std::size_t connections = 256;
  std::size_t connections_each_peer = 64;
  double requests_burst = 1000;  // of one address at once, and then
  double requests_each_second = 200;
  base::Duration request_within = std::chrono::seconds(10);  // from its first byte on
  base::Duration idle = std::chrono::seconds(60);            // between two requests
  base::Duration send_within = std::chrono::seconds(30);     // of one answer, or one message of a feed
};

// A WebSocket that is only written to; what the client sends is read and dropped.
class Outlet {
 public:
  virtual ~Outlet() = default;
  // Returns when it was handed to the system; throws when the client is gone or takes too long.
  virtual task<> text(std::string message) = 0;
  virtual task<> binary(std::string message) = 0;
};

struct Handlers {
  // Never throws.
  std::function<task<Response>(const Request&)> answer;
  // Of a request to become a WebSocket: empty when it may not, and `refused` then holds the answer. The task runs until
  // the client is gone, which cancels it.
  std::function<std::function<task<>(Outlet&)>(const Request&, Response& refused)> feed;
};

struct Tls {
  std::string certificate_pem;  // with the chain, if there is one
  std::string key_pem;
};

// Of "127.0.0.1:8080". Throws base::Error(bad_input) when it is no address and port.
bool is_loopback(const std::string& listen);

class Server {
 public:
  // "127.0.0.1:8080", "[::1]:0"; port 0 takes a free one. Throws base::Error(bad_input) when it cannot be had, or when
  // certificate and key are none.
  Server(const boost::asio::any_io_executor& executor, base::Timeline& timeline, const std::string& listen,
         Handlers handlers, const Limits& limits = {}, const std::optional<Tls>& tls = {});
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;
  ~Server();

  std::string url() const;  // "http://127.0.0.1:8080", or https
  bool is_loopback() const;
  int port() const;

  // Until cancelled; then every connection is closed.
  task<> serve();

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::service::http
