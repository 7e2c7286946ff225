// SPDX-License-Identifier: Apache-2.0
#include "core/program/daemon_client/client.hpp"

#include <fmt/format.h>
#include <openssl/pem.h>
#include <openssl/ssl.h>

#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/host_name_verification.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/buffers_to_string.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
#include <boost/beast/websocket/ssl.hpp>
#include <boost/json.hpp>
#include <boost/url/encode.hpp>
#include <boost/url/rfc/unreserved_chars.hpp>
#include <memory>
#include <utility>

#include "core/base/certificate.hpp"
#include "core/base/deadline.hpp"
#include "core/record/journal/json_text.hpp"

namespace eyelevel::program {
namespace asio = boost::asio;
namespace beast = boost::beast;
namespace bhttp = beast::http;
namespace json = boost::json;
namespace websocket = beast::websocket;
using asio::ip::tcp;
using base::ErrorCode;
using Secure = asio::ssl::stream<tcp::socket>;

namespace {

// A whole request; a job is checked meanwhile, which takes the daemon a moment.
constexpr auto answers_within = std::chrono::seconds(20);
constexpr auto connects_within = std::chrono::seconds(10);
constexpr std::size_t largest_answer = std::size_t{64} << 20U;

base::Error at(const DaemonPlace& place, ErrorCode code, std::string why, std::string advice) {
  base::ErrorRecord record;
  record.code = code;
  record.where = "daemon at " + place.url;
  record.message = std::move(why);
  record.advice = std::move(advice);
  return base::Error(std::move(record));
}

base::Error no_connection(const DaemonPlace& place, const std::string& why) {
  return at(place, ErrorCode::no_connection, "it cannot be reached: " + why,
            "see that eyeleveld runs there, and that this is the address it told");
}

base::Error time_out(const DaemonPlace& place) {
  return at(place, ErrorCode::time_out, "it does not answer in time", "see whether it still runs");
}

task<> connect(const DaemonPlace& place, tcp::socket& socket) {
  tcp::resolver resolver(socket.get_executor());
  const auto found = co_await resolver.async_resolve(place.host, place.port, asio::use_awaitable);
  co_await asio::async_connect(socket, found, asio::use_awaitable);
  socket.set_option(tcp::no_delay(true));
}

std::string fingerprint_of_peer(Secure& stream) {
  const std::unique_ptr<X509, decltype(&X509_free)> certificate(SSL_get1_peer_certificate(stream.native_handle()),
                                                                &X509_free);
  const std::unique_ptr<BIO, decltype(&BIO_free)> text(BIO_new(BIO_s_mem()), &BIO_free);
  if (!certificate || !text || PEM_write_bio_X509(text.get(), certificate.get()) != 1) return {};
  char* bytes = nullptr;
  const auto size = BIO_get_mem_data(text.get(), &bytes);
  return base::fingerprint_of({bytes, static_cast<std::size_t>(size)});
}

asio::ssl::context tls_for(const DaemonPlace& place) {
  asio::ssl::context tls(asio::ssl::context::tls_client);
  SSL_CTX_set_min_proto_version(tls.native_handle(), TLS1_2_VERSION);
  // By its fingerprint it is known without anybody's word; it is compared before anything is sent.
  if (place.fingerprint.empty()) {
    tls.set_default_verify_paths();
    tls.set_verify_mode(asio::ssl::verify_peer);
    tls.set_verify_callback(asio::ssl::host_name_verification(place.host));
  }
  return tls;
}

// Throws when the certificate is not the one that is expected.
task<> shake_hands(const DaemonPlace& place, Secure& stream) {
  boost::system::error_code not_an_address;
  asio::ip::make_address(place.host, not_an_address);
  if (not_an_address) SSL_set_tlsext_host_name(stream.native_handle(), place.host.c_str());  // RFC 6066, 3: no address
  try {
    co_await stream.async_handshake(asio::ssl::stream_base::client, asio::use_awaitable);
  } catch (const boost::system::system_error& error) {
    if (error.code() == asio::error::operation_aborted) throw;
    if (place.fingerprint.empty())
      throw at(place, ErrorCode::bad_input, "nobody whom this system trusts vouches for it: " + error.code().message(),
               "compare the fingerprint that eyeleveld printed when it began, and say it with --certificate");
    throw no_connection(place, error.code().message());
  }
  if (place.fingerprint.empty()) co_return;
  const auto shown = fingerprint_of_peer(stream);
  if (shown != place.fingerprint)
    throw at(place, ErrorCode::bad_input, fmt::format("its certificate is another one, SHA-256 {}", shown),
             "compare it with what eyeleveld printed when it began: somebody may stand between");
}

task<> open(const DaemonPlace& place, tcp::socket& socket) { co_await connect(place, socket); }
task<> open(const DaemonPlace& place, Secure& stream) {
  co_await connect(place, stream.next_layer());
  co_await shake_hands(place, stream);
}

// Our own errors as they are; the system's as what they mean here.
template <class Stream>
task<> opened(base::Timeline& timeline, const DaemonPlace& place, Stream& stream) {
  try {
    if (!co_await base::finished_within(timeline, connects_within, open(place, stream)))
      throw no_connection(place, "nothing answers there");
  } catch (const boost::system::system_error& error) {
    if (error.code() == asio::error::operation_aborted) throw;
    throw no_connection(place, error.code().message());
  }
}

using Wish = bhttp::request<bhttp::string_body>;

void say_who(const DaemonPlace& place, bhttp::fields& fields) {
  if (!place.token.empty()) fields.set(bhttp::field::authorization, "Bearer " + place.token);
  if (!place.seat.empty()) fields.set("Eyelevel-Seat", place.seat);
}

template <class Stream>
task<> exchange(Stream& stream, const Wish& wish, bhttp::response_parser<bhttp::string_body>& answer) {
  beast::flat_buffer buffer;
  co_await bhttp::async_write(stream, wish, asio::use_awaitable);
  co_await bhttp::async_read(stream, buffer, answer, asio::use_awaitable);
}

json::value body_of(const DaemonPlace& place, const std::string& type, const std::string& text) {
  if (text.empty()) return nullptr;
  if (type.find("json") == std::string::npos)
    throw at(place, ErrorCode::bad_answer,
             fmt::format("what answers there is no eyeleveld: it sent {}", base::escaped(type)),
             "name the address that eyeleveld told");
  return record::parse_json(text, "the answer of " + place.url);
}

template <class Stream>
task<DaemonAnswer> ask_over(base::Timeline& timeline, const DaemonPlace& place, Stream& stream, const Wish& wish) {
  co_await opened(timeline, place, stream);
  bhttp::response_parser<bhttp::string_body> parser;
  parser.body_limit(largest_answer);
  try {
    if (!co_await base::finished_within(timeline, answers_within, exchange(stream, wish, parser)))
      throw time_out(place);
  } catch (const boost::system::system_error& error) {
    if (error.code() == asio::error::operation_aborted) throw;
    throw at(place, ErrorCode::connection_lost, "it went away before it answered: " + error.code().message(),
             "see whether it still runs");
  }
  const auto raw = parser.release();
  co_return DaemonAnswer{static_cast<int>(raw.result_int()),
                         body_of(place, std::string(raw[bhttp::field::content_type]), raw.body())};
}

template <class Stream>
task<> greet(const DaemonPlace& place, websocket::stream<Stream>& feed, websocket::response_type& response,
             const std::string& target) {
  feed.set_option(websocket::stream_base::decorator([&place](websocket::request_type& wish) { say_who(place, wish); }));
  co_await feed.async_handshake(response, place.authority, target, asio::use_awaitable);
}

template <class Stream>
task<bool> follow_over(base::Timeline& timeline, const DaemonPlace& place, Stream stream, const std::string& target,
                       const DaemonClient::Take& take) {
  co_await opened(timeline, place, stream);
  websocket::stream<Stream> feed(std::move(stream));
  auto timeout = websocket::stream_base::timeout::suggested(beast::role_type::client);
  timeout.idle_timeout = answers_within;
  timeout.keep_alive_pings = true;  // a daemon that is gone without a word is noticed
  feed.set_option(timeout);
  feed.read_message_max(largest_answer);
  websocket::response_type response;
  try {
    co_await greet(place, feed, response, target);
  } catch (const boost::system::system_error& error) {
    if (error.code() == asio::error::operation_aborted) throw;
    if (error.code() == websocket::error::upgrade_declined)
      throw at(place, ErrorCode::bad_input, fmt::format("its feed is refused with status {}", response.result_int()),
               "see whether the token still holds");
    throw no_connection(place, error.code().message());
  }
  for (beast::flat_buffer buffer;; buffer.clear()) {
    try {
      co_await feed.async_read(buffer, asio::use_awaitable);
    } catch (const boost::system::system_error& error) {
      if (error.code() == asio::error::operation_aborted) throw;
      co_return false;
    }
    if (!feed.got_text()) continue;  // the eye, which has no place in a terminal
    const auto text = beast::buffers_to_string(buffer.data());
    auto message = record::parse_json(text, "the feed of " + place.url);
    if (co_await take(std::move(message.as_object()))) co_return true;
  }
}

std::string text_in(const json::value& body, const char* key) {
  const auto* object = body.if_object();
  const auto* value = object == nullptr ? nullptr : object->if_contains(key);
  return value != nullptr && value->is_string() ? std::string(value->get_string()) : std::string();
}

}  // namespace

std::string encoded(std::string_view text) { return boost::urls::encode(text, boost::urls::unreserved_chars); }

task<DaemonAnswer> DaemonClient::ask(std::string method, std::string target, json::object body) {
  Wish wish;
  wish.method_string(method);
  wish.target(target);
  wish.version(11);
  wish.set(bhttp::field::host, place_.authority);
  wish.set(bhttp::field::content_type, "application/json");
  wish.set(bhttp::field::connection, "close");
  say_who(place_, wish);
  if (!body.empty()) wish.body() = record::text_of(body);
  wish.prepare_payload();
  const auto executor = co_await asio::this_coro::executor;
  if (place_.is_secure) {
    auto tls = tls_for(place_);
    Secure stream(executor, tls);
    co_return co_await ask_over(timeline_, place_, stream, wish);
  }
  tcp::socket socket(executor);
  co_return co_await ask_over(timeline_, place_, socket, wish);
}

task<json::value> DaemonClient::done(std::string method, std::string target, json::object body) {
  auto answer = co_await ask(std::move(method), std::move(target), std::move(body));
  if (!answer.is_done()) throw refusal(answer);
  co_return std::move(answer.body);
}

base::Error DaemonClient::refusal(const DaemonAnswer& answer) const {
  auto why = text_in(answer.body, "detail");
  if (why.empty()) why = fmt::format("it answers with status {}", answer.status);
  if (const auto where = text_in(answer.body, "where"); !where.empty()) why = where + ": " + why;
  auto advice = text_in(answer.body, "advice");
  if (answer.status == 401)
    advice = "set EYELEVEL_TOKEN to a token, which its page makes under Settings, and which has not ended yet";
  auto code = ErrorCode::bad_input;
  if (answer.status == 404) code = ErrorCode::not_found;
  if (answer.status == 503) code = ErrorCode::no_connection;
  if (answer.status == 500) code = ErrorCode::defect;
  return at(place_, code, std::move(why), std::move(advice));
}

task<bool> DaemonClient::follow(std::string target, Take take) {
  const auto executor = co_await asio::this_coro::executor;
  if (place_.is_secure) {
    auto tls = tls_for(place_);
    co_return co_await follow_over(timeline_, place_, Secure(executor, tls), target, take);
  }
  co_return co_await follow_over(timeline_, place_, tcp::socket(executor), target, take);
}

}  // namespace eyelevel::program
