// SPDX-License-Identifier: Apache-2.0
// One of the two connections of a HiSLIP session, as messages; both sides use it. One read brings header and short
// payload together, a long payload goes straight to where it is wanted, one write sends header, payload and NL.
// A cancelled read loses nothing: the next one goes on at the same byte. A cancelled write leaves unsent() bytes.
// Either connection may go over to encryption between two messages, and back.
// Memory: one buffer of a few KiB, whatever is announced. Errors are returned, for the caller knows what they mean.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/task.hpp"
#include "instruments/transport/hislip/codec.hpp"
#include "instruments/transport/hislip/tls.hpp"

namespace eyelevel::transport::hislip {

class Channel {
 public:
  using ErrorCode = boost::system::error_code;
  enum class Cancellable { yes, no };

  explicit Channel(boost::asio::ip::tcp::socket socket);
  explicit Channel(const boost::asio::any_io_executor& executor) : Channel(boost::asio::ip::tcp::socket(executor)) {}

  boost::asio::ip::tcp::socket& socket() { return socket_; }
  // After the connection stands: short messages go at once, and a dead peer is noticed.
  ErrorCode prepare();
  bool is_open() const { return socket_.is_open(); }
  void close() noexcept;

  // The handshake of TLS; all that follows is encrypted. protocol_error: fault() says why it did not come to an end.
  task<ErrorCode> secure(std::unique_ptr<Tls> tls);
  // The end of TLS, said by both sides; all that follows is in the clear. What the peer said encrypted until then is
  // read first, as every message.
  task<ErrorCode> unsecure();
  bool is_secure() const { return tls_ != nullptr; }
  std::string peer_fingerprint() const { return tls_ ? tls_->peer_fingerprint() : std::string(); }

  // The next message's header; what is left of the payload before is skipped. error::eof when the peer has closed.
  // bad_message: fault() says which byte; protocol_error: why it cannot be decrypted.
  task<ErrorCode> next(Header& header);
  const std::string& fault() const { return fault_; }
  // The header of the next message, if it is here by now. No waiting; only between two messages.
  bool peek(Header& header);
  std::uint64_t payload_left() const { return payload_left_; }
  // `count` bytes of the payload to into[have], which has room for them; `have` grows as they come.
  // `came` is told of all that is in `into`, after each piece.
  using Came = std::function<void(std::string_view so_far)>;
  task<ErrorCode> read_payload(std::string& into, std::size_t& have, std::size_t count, Came came = nullptr);
  // A whole payload that is known to be short.
  task<ErrorCode> read_short_payload(std::string& into);

  task<ErrorCode> send(Header header, std::string_view payload = {}, std::string_view more = {},
                       Cancellable cancellable = Cancellable::yes);
  // Last words before a close: sent as far as there is room at once.
  void send_last(Header header, std::string_view payload) noexcept;
  std::size_t unsent() const { return unsent_; }
  // The rest of a half-sent message, for a peer that will not look at it: any bytes, or those that were encrypted.
  task<ErrorCode> send_filler();

 private:
  using Parts = std::array<boost::asio::const_buffer, 3>;
  bool take(Header& header);
  void make_room();
  task<ErrorCode> fill();
  task<ErrorCode> receive(char* into, std::size_t most, std::size_t& count);
  task<std::size_t> write_some(Parts parts, Cancellable cancellable, ErrorCode& error);
  task<ErrorCode> send_encrypted(Cancellable cancellable);
  std::string_view buffered() const { return {buffer_.data() + begin_, end_ - begin_}; }

  boost::asio::ip::tcp::socket socket_;
  std::vector<char> buffer_;
  std::size_t begin_ = 0;
  std::size_t end_ = 0;
  std::uint64_t payload_left_ = 0;
  std::size_t unsent_ = 0;
  std::string fault_;
  std::unique_ptr<Tls> tls_;     // none: in the clear
  std::string going_out_;        // encrypted, and not sent yet
  std::vector<char> encrypted_;  // what one read brings
};

// Whether an error ends the connection. A cancelled wait does not: it is thrown on.
bool is_over(const Channel::ErrorCode& error);

}  // namespace eyelevel::transport::hislip
