// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/channel.hpp"

#include <boost/asio/post.hpp>
#include <boost/asio/write.hpp>

#include <array>

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/hislip/certificate_of_a_server.hpp"
#include "tests/instruments/transport/hislip/peer.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

namespace {

// Two ends of one connection.
struct Ends {
  Channel here;
  Channel there;
};

task<Ends> two_ends() {
  using boost::asio::ip::tcp;
  const auto executor = co_await boost::asio::this_coro::executor;
  tcp::acceptor acceptor(executor, tcp::endpoint(boost::asio::ip::address_v4::loopback(), 0));
  Channel here = co_await connected(acceptor.local_endpoint().port());
  Channel there(co_await acceptor.async_accept(boost::asio::use_awaitable));
  REQUIRE_FALSE(there.prepare());
  co_return Ends{std::move(here), std::move(there)};
}

using Body = std::function<task<>(base::Timeline&, Ends&)>;

void with_ends(const Body& body) {
  Wall wall;
  auto main = [](base::Timeline& timeline, const Body& inner) -> task<> {
    auto ends = co_await two_ends();
    co_await inner(timeline, ends);
  };
  wall.run(main(*wall.timeline, body));
}

task<> next_into(Channel& channel, Header& header) {
  if (const auto error = co_await channel.next(header)) throw boost::system::system_error(error);
}

}  // namespace

TEST_CASE("hislip channel: payloads of every size around the buffer's edges arrive whole, read or skipped",
          "[transport]") {
  with_ends([](base::Timeline&, Ends& ends) -> task<> {
    std::uint32_t id = 0;
    for (const std::size_t edge : {16U, 65536U, 131072U}) {
      for (std::size_t size = edge - 17; size < edge + 18; ++size, ++id) {
        CAPTURE(size);
        const std::string payload(size, static_cast<char>(id));
        for (const bool read : {true, false}) {
          REQUIRE_FALSE(co_await ends.here.send({MessageType::data, 7, id}, payload, "\n"));
          Header header;
          REQUIRE_FALSE(co_await ends.there.next(header));
          REQUIRE(header == Header{MessageType::data, 7, id, size + 1});
          std::string got;
          if (read) REQUIRE_FALSE(co_await ends.there.read_short_payload(got));
          if (read) REQUIRE((got == payload + "\n"));
        }
      }
    }
  });
}

TEST_CASE("hislip channel: a cancelled wait goes on at the same byte, inside header and payload", "[transport]") {
  with_ends([](base::Timeline& timeline, Ends& ends) -> task<> {
    const auto head = encode({MessageType::data_end, 0, 5, 4});
    const std::string bytes = std::string(head.data(), head.size()) + "abcd";
    Header header;
    for (std::size_t at = 0; at < bytes.size(); ++at) {
      CAPTURE(at);
      if (at < header_bytes) CHECK_FALSE(co_await base::finished_within(timeline, 2ms, next_into(ends.there, header)));
      boost::system::error_code error;
      REQUIRE(ends.here.socket().write_some(boost::asio::buffer(bytes.data() + at, 1), error) == 1);
    }
    REQUIRE_FALSE(co_await ends.there.next(header));
    CHECK(header.parameter == 5);
    std::string got;
    REQUIRE_FALSE(co_await ends.there.read_short_payload(got));
    CHECK(got == "abcd");
  });
}

TEST_CASE("hislip channel: a cancelled message is finished by filler, and the next one is whole", "[transport]") {
  with_ends([](base::Timeline& timeline, Ends& ends) -> task<> {
    auto send_much = [](Channel& channel) -> task<> {
      const std::string much(std::size_t{32} << 20U, 'm');
      if (const auto error = co_await channel.send({MessageType::data, 0, 1}, much))
        throw boost::system::system_error(error);
    };
    CHECK_FALSE(co_await base::finished_within(timeline, 30ms, send_much(ends.here)));
    const std::size_t unsent = ends.here.unsent();
    CHECK(unsent > 0);
    CHECK(unsent < (std::size_t{32} << 20U));
    auto finish = [](Channel& channel) -> task<> {
      CHECK_FALSE(co_await channel.send_filler());
      CHECK_FALSE(co_await channel.send({MessageType::trigger, 0, 2}));
    };
    boost::asio::co_spawn(co_await boost::asio::this_coro::executor, finish(ends.here), [](std::exception_ptr) {});
    Header header;
    REQUIRE_FALSE(co_await ends.there.next(header));
    CHECK(header.payload_bytes == std::size_t{32} << 20U);
    REQUIRE_FALSE(co_await ends.there.next(header));
    CHECK(header == Header{MessageType::trigger, 0, 2, 0});
    CHECK(ends.here.unsent() == 0);
  });
}

TEST_CASE("hislip channel: peek shows a header that is here, waits for none, and takes nothing away", "[transport]") {
  with_ends([](base::Timeline& timeline, Ends& ends) -> task<> {
    Header header;
    CHECK_FALSE(ends.there.peek(header));
    REQUIRE_FALSE(co_await ends.here.send({MessageType::data, 0, 9}, "x"));
    // It is on its way through the system.
    while (!ends.there.peek(header)) co_await timeline.sleep(1ms);
    CHECK(header.parameter == 9);
    header = {};
    REQUIRE_FALSE(co_await ends.there.next(header));
    CHECK(header.parameter == 9);
    CHECK_FALSE(ends.there.peek(header));  // a payload is still to be read
  });
}

TEST_CASE("hislip channel: the end of the stream and a wrong beginning are two things", "[transport]") {
  with_ends([](base::Timeline&, Ends& ends) -> task<> {
    boost::system::error_code error;
    ends.here.socket().write_some(boost::asio::buffer("G", 1), error);
    Header header;
    CHECK(co_await ends.there.next(header) == boost::system::errc::bad_message);
    CHECK_FALSE(ends.there.fault().empty());
    ends.there.close();
    CHECK(co_await ends.here.next(header));
    CHECK(ends.here.fault().empty());
  });
}

TEST_CASE("hislip channel: last words arrive although the other side was still talking", "[transport]") {
  with_ends([](base::Timeline&, Ends& ends) -> task<> {
    REQUIRE_FALSE(co_await ends.here.send({MessageType::data, 0, 1}, "chatter"));
    Header header;
    REQUIRE_FALSE(co_await ends.there.next(header));
    ends.there.send_last({MessageType::fatal_error, 4}, "no");
    ends.there.close();
    const auto message = co_await next_message(ends.here, MessageType::fatal_error);
    CHECK(message.payload == "no");
  });
}

namespace {

std::string message_bytes(MessageType type, std::uint32_t id, const std::string& payload) {
  const auto head = encode({type, 0, id, payload.size()});
  return std::string(head.data(), head.size()) + payload;
}

// The other end's half of the handshake, by hand, so that what follows it can be put together as the test wants.
task<> shake_hands_by_hand(boost::asio::ip::tcp::socket& socket, Tls& tls) {
  std::array<char, 4096> bytes;
  while (!tls.shake_hands()) {
    boost::system::error_code error;
    const auto count = co_await socket.async_read_some(boost::asio::buffer(bytes), boost::asio::use_awaitable);
    tls.put({bytes.data(), count});
    tls.shake_hands();
    const auto answer = std::exchange(tls.to_send(), {});
    socket.write_some(boost::asio::buffer(answer), error);
  }
}

// `here` encrypted; then the other end sends in one go what `speech` makes, and `here` ends encryption.
task<boost::system::error_code> end_against(Ends& ends, std::function<std::string(Tls&)> speech) {
  const auto tls = Tls::server(certificate().certificate_pem, certificate().key_pem);
  const auto play = [](boost::asio::ip::tcp::socket& socket, Tls& hand,
                       std::function<std::string(Tls&)> made) -> task<> {
    co_await shake_hands_by_hand(socket, hand);
    const std::string bytes = made(hand);
    co_await boost::asio::async_write(socket, boost::asio::buffer(bytes), boost::asio::use_awaitable);
  };
  bool played = false;
  boost::asio::co_spawn(co_await boost::asio::this_coro::executor, play(ends.there.socket(), *tls, std::move(speech)),
                        [&played](const std::exception_ptr&) { played = true; });
  REQUIRE_FALSE(co_await ends.here.secure(Tls::client()));
  const auto error = co_await ends.here.unsecure();
  ends.here.socket().cancel();
  ends.there.socket().cancel();
  while (!played) co_await boost::asio::post(boost::asio::use_awaitable);
  co_return error;
}

}  // namespace

TEST_CASE("hislip channel: encryption that ends loses nothing of what was said before its end and behind it",
          "[transport]") {
  const std::size_t size = GENERATE(std::size_t{1}, std::size_t{5000}, std::size_t{30000});
  with_ends([size](base::Timeline&, Ends& ends) -> task<> {
    const std::string before(size, 'b'), behind(size, 'c');
    const auto speech = [&](Tls& tls) {
      tls.write(message_bytes(MessageType::data, 1, before));
      tls.end();
      return std::exchange(tls.to_send(), {}) + message_bytes(MessageType::data_end, 2, behind);
    };
    REQUIRE_FALSE(co_await end_against(ends, speech));
    CHECK_FALSE(ends.here.is_secure());
    CHECK((co_await next_message(ends.here, MessageType::data)).payload == before);
    CHECK((co_await next_message(ends.here, MessageType::data_end)).payload == behind);
  });
}

TEST_CASE("hislip channel: who goes on encrypted instead of ending it is not listened to without end", "[transport]") {
  with_ends([](base::Timeline&, Ends& ends) -> task<> {
    const auto speech = [](Tls& tls) {
      tls.write(std::string(100000, 'x'));
      return std::exchange(tls.to_send(), {});
    };
    CHECK(co_await end_against(ends, speech) == boost::system::errc::protocol_error);
    CHECK(ends.here.fault() == "the peer goes on with encryption, and should have ended it");
  });
}
