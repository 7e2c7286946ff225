// SPDX-License-Identifier: Apache-2.0
// Encryption and login (IVI-6.1 rev 2.0, Tables 3 and 4, types 28 to 38). Which message follows which, the message id
// that AsyncStartTLS and AsyncEndTLS carry in their payload, that a login is asked for at once, and that encryption
// ends as it begins, first on the asynchronous connection, with both sides saying so (close_notify of RFC 8446, 6.1),
// are from memory, unproven on hardware.
#include <fmt/format.h>

#include <array>
#include <utility>

#include "instruments/transport/error.hpp"
#include "instruments/transport/hislip/client_link.hpp"

namespace eyelevel::transport::hislip {
namespace {

constexpr auto synchronous = Connection::synchronous;
constexpr auto asynchronous = Connection::asynchronous;

std::string number(std::uint32_t value) {
  std::string bytes;
  for (int shift = 24; shift >= 0; shift -= 8) bytes += static_cast<char>(value >> static_cast<unsigned>(shift));
  return bytes;
}

const char* why_not(const Header& answer) {
  return answer.control == static_cast<std::uint8_t>(TlsAnswer::busy) ? "it is busy" : "error";
}

}  // namespace

// What a server says of itself in InitializeResponse against what we want.
bool HislipLink::agrees_on_encryption(const Header& header) {
  const bool is_2_0 = version_ >= version_2_0;
  const auto says = [&](std::uint8_t flag) { return is_2_0 && (header.control & flag) != 0; };
  if (wants_encryption()) {
    if (!is_2_0)
      fail(code(), text_,
           "the instrument has no encryption (it speaks HiSLIP 1.0), and its certificate is given: nothing was sent in "
           "the clear",
           "take the certificate out of the bench file if the network may be trusted");
    return true;
  }
  if (says(initialize_flags::encryption_mandatory))
    fail(code(), text_, "the instrument accepts encrypted connections only, and no certificate of it is given",
         "give its certificate or the fingerprint of it, or allow connections without encryption in the instrument's "
         "network settings");
  return !says(initialize_flags::initial_encryption);
}

task<> HislipLink::start_encryption(const Header& initialize_response) {
  if (!wants_encryption()) co_return;
  if ((initialize_response.control & secure_capable) == 0)
    fail(
        code(), text_,
        "the instrument has no encryption (its AsyncInitializeResponse says so), and its certificate is given: nothing "
        "was sent in the clear",
        "switch encryption on in the instrument's network settings, or take the certificate out of the bench file");
  doing_ = "while beginning encryption";
  // Nothing was sent or delivered before.
  co_await send(asynchronous, {MessageType::async_start_tls, 0, before_first_id}, number(before_first_id));
  const Header answer = co_await next_async(MessageType::async_start_tls_response);
  if (answer.control != static_cast<std::uint8_t>(TlsAnswer::success))
    fail(code(), text_, fmt::format("the instrument does not begin encryption ({})", why_not(answer)),
         "look at the instrument's network settings");
  co_await shake_hands(asynchronous);
  co_await send(synchronous, {MessageType::start_tls});
  co_await shake_hands(synchronous);
  co_await log_in();
  if (options_.encrypt_login_only) co_await end_encryption();
}

// Nothing but the handshake is sent before the certificate is known to be the right one.
task<> HislipLink::shake_hands(Connection which) {
  if (const auto error = co_await at(which).secure(Tls::client())) broken(which, error);
  const auto seen = at(which).peer_fingerprint();
  if (seen == options_.fingerprint) co_return;
  must_reopen_ = true;
  close();
  base::ErrorRecord record;
  record.code = code();
  record.where = text_;
  record.message = "this is another certificate than the instrument's";
  record.received = "SHA-256 " + (seen.empty() ? "of none" : seen);
  record.expected = "SHA-256 " + options_.fingerprint;
  record.advice =
      "compare the fingerprint with what the instrument shows on its own display; if it has a new certificate, give "
      "that one, else someone stands between";
  throw TransportError(std::move(record));
}

// A server that begins with an empty challenge (RFC 4422, 3) and one that waits for the client's words are both
// understood.
task<> HislipLink::log_in() {
  doing_ = "while logging in";
  co_await send(synchronous, {MessageType::get_sasl_mechanism_list});
  std::string list;
  if ((co_await next_login(list)).type != MessageType::get_sasl_mechanism_list_response)
    refuse_login("no list of mechanisms came");
  const auto mechanism = mechanism_of(options_.login);
  if (!is_in_list(mechanism, list))
    refuse_login(fmt::format("the instrument has no {}, only {}", mechanism, list.empty() ? "nothing" : list));
  co_await send(synchronous, {MessageType::authentication_start}, mechanism);
  co_await send(synchronous, {MessageType::authentication_exchange}, first_words(options_.login));
  std::string words;
  Header answer = co_await next_login(words);
  if (answer.type == MessageType::authentication_exchange && words.empty()) answer = co_await next_login(words);
  if (answer.type != MessageType::authentication_result) refuse_login(fmt::format("{} came", name_of(answer.type)));
  if (answer.control != authentication_success)
    refuse_login(fmt::format("the instrument refuses {}{}{}",
                             options_.login.user.empty() ? "who gives no user" : "this user and password",
                             words.empty() ? "" : ": ", base::escaped(words)));
}

task<> HislipLink::end_encryption() {
  doing_ = "while ending encryption";
  // No message was sent or delivered before.
  co_await send(asynchronous, {MessageType::async_end_tls, 0, before_first_id}, number(before_first_id));
  const Header answer = co_await next_async(MessageType::async_end_tls_response);
  if (answer.control != static_cast<std::uint8_t>(TlsAnswer::success))
    fail(code(), text_, fmt::format("the instrument does not end encryption after the login ({})", why_not(answer)),
         "take 'encryption: login only' out of the bench file");
  if (const auto error = co_await async_.unsecure()) broken(asynchronous, error);
  co_await send(synchronous, {MessageType::end_tls});
  if (const auto error = co_await sync_.unsecure()) broken(synchronous, error);
}

task<Header> HislipLink::next_login(std::string& words) {
  const Header header = co_await next(synchronous);
  if (header.payload_bytes > most_async_bytes)
    unexpected(synchronous, header, fmt::format("{} of {} bytes", name_of(header.type), header.payload_bytes),
               fmt::format("at most {} bytes", most_async_bytes));
  if (const auto cut = co_await sync_.read_short_payload(words)) broken(synchronous, cut);
  co_return header;
}

void HislipLink::refuse_login(std::string why) {
  must_reopen_ = true;
  close();
  fail(code(), text_, "no login: " + std::move(why), "give the user and the password that the instrument knows");
}

}  // namespace eyelevel::transport::hislip
