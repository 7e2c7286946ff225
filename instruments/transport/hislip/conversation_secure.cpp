// SPDX-License-Identifier: Apache-2.0
// Encryption and login, the server's side; what of it is from memory says client_secure.cpp. Where encryption is
// mandatory it is kept: AsyncEndTLS is refused.
#include <utility>

#include "instruments/transport/hislip/conversation.hpp"

namespace eyelevel::transport::hislip {

// Before a connection is encrypted, where that is mandatory.
bool Conversation::is_refused_in_the_clear(const Header& header, const Channel& channel) {
  if (!settings_.security || !settings_.security->mandatory || channel.is_secure()) return false;
  switch (header.type) {
    case MessageType::error:
    case MessageType::fatal_error:
    case MessageType::get_descriptors:
    case MessageType::async_maximum_message_size:
    case MessageType::async_start_tls:
    case MessageType::start_tls: return false;
    default: break;
  }
  fatal(FatalError::no_secure_connection, "this instrument accepts encrypted connections only");
  return true;
}

task<bool> Conversation::secure_asynchronous() {
  const auto answer = async_.is_secure() ? TlsAnswer::error : TlsAnswer::success;
  return change_asynchronous({MessageType::async_start_tls_response, static_cast<std::uint8_t>(answer)}, true);
}

// Not before all is executed that was sent encrypted.
task<bool> Conversation::unsecure_asynchronous(std::uint32_t last_sent) {
  auto answer = is_to_come(last_sent) || slow_ ? TlsAnswer::busy : TlsAnswer::success;
  if (settings_.security->mandatory || !async_.is_secure()) answer = TlsAnswer::error;
  return change_asynchronous({MessageType::async_end_tls_response, static_cast<std::uint8_t>(answer)}, false);
}

// Nothing else goes out meanwhile: what is posted waits until both sides are through.
task<bool> Conversation::change_asynchronous(Header answer, bool secure) {
  if (answer.control != static_cast<std::uint8_t>(TlsAnswer::success)) {
    post(answer);
    co_return !ended_;
  }
  while (posting_) co_await outbox_sent_.wait();
  posting_ = true;
  auto error = co_await async_.send(answer);
  if (!error) error = secure ? co_await async_.secure(settings_.security->begin()) : co_await async_.unsecure();
  posting_ = false;
  if (error) {
    fatal(FatalError::no_secure_connection, async_.fault());
    co_return false;
  }
  if (!outbox_.empty()) start_outbox();
  co_return !ended_;
}

task<bool> Conversation::secure_synchronous() {
  if (!async_.is_secure() || sync_.is_secure()) {
    fatal(FatalError::no_secure_connection, "StartTLS comes once, and after AsyncStartTLS");
    co_return false;
  }
  if (is_over(co_await sync_.secure(settings_.security->begin()))) {
    fatal(FatalError::no_secure_connection, sync_.fault());
    co_return false;
  }
  co_return true;
}

task<bool> Conversation::unsecure_synchronous() {
  if (async_.is_secure() || !sync_.is_secure()) {
    fatal(FatalError::no_secure_connection, "EndTLS comes once, and after AsyncEndTLS");
    co_return false;
  }
  logged_in_ = false;  // for encryption that begins again
  if (is_over(co_await sync_.unsecure())) {
    fatal(FatalError::no_secure_connection, sync_.fault());
    co_return false;
  }
  co_return true;
}

task<bool> Conversation::take_login(const Header& header) {
  std::string words;
  if (is_over(co_await sync_.read_short_payload(words))) co_return false;
  if (!sync_.is_secure())
    co_return co_await complain(NonFatalError::authentication_failed, "a login needs an encrypted connection");
  const Login& expected = settings_.security->login;
  const auto mechanism = mechanism_of(expected);
  if (header.type == MessageType::get_sasl_mechanism_list)
    co_return !is_over(
        co_await sync_.send({MessageType::get_sasl_mechanism_list_response}, mechanism, {}, Channel::Cancellable::no));
  if (header.type == MessageType::authentication_start) {
    is_mechanism_right_ = words == mechanism;
    co_return true;
  }
  logged_in_ = std::exchange(is_mechanism_right_, false) && is_login(words, expected);
  const Header answer{MessageType::authentication_result, logged_in_ ? authentication_success : std::uint8_t{0}};
  co_return !is_over(co_await sync_.send(answer, logged_in_ ? "" : "unknown user or password, or another mechanism", {},
                                         Channel::Cancellable::no));
}

}  // namespace eyelevel::transport::hislip
