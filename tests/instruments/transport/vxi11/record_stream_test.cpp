// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/record_stream.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/system/system_error.hpp>

#include "core/base/deadline.hpp"
#include "instruments/transport/vxi11/codec_xdr.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;
namespace asio = boost::asio;
using asio::ip::tcp;

namespace {

struct Pair {
  RecordStream stream;
  tcp::socket peer;
};

task<std::unique_ptr<Pair>> connected(std::size_t most_bytes) {
  const auto executor = co_await asio::this_coro::executor;
  tcp::acceptor acceptor(executor, tcp::endpoint(asio::ip::make_address("127.0.0.1"), 0));
  tcp::socket peer(executor), own(executor);
  co_await peer.async_connect(acceptor.local_endpoint(), asio::use_awaitable);
  own = co_await acceptor.async_accept(asio::use_awaitable);
  co_return std::make_unique<Pair>(Pair{RecordStream(std::move(own), most_bytes), std::move(peer)});
}

std::string fragment(std::string_view bytes, bool last) {
  std::string stream;
  XdrWriter(stream).u32(static_cast<std::uint32_t>(bytes.size()) | (last ? 0x80000000U : 0U));
  return stream.append(bytes);
}

task<> send(tcp::socket& peer, std::string bytes) {
  co_await asio::async_write(peer, asio::buffer(bytes), asio::use_awaitable);
}

}  // namespace

TEST_CASE("record stream: what is left of a record is passed over, small and large", "[transport]") {
  test::Wall wall;
  auto main = []() -> task<> {
    const auto pair = co_await connected(1U << 20U);
    for (const std::size_t size : {10U, 5000U, 16384U, 100000U}) {
      CAPTURE(size);
      const std::string payload(size, 'a');
      co_await send(pair->peer, fragment(payload, false) + fragment("rest", true) + fragment("next", true));
      co_await pair->stream.next_record();
      std::string first(5, '\0');
      co_await pair->stream.read_exactly(first.data(), first.size(), "five bytes");
      CHECK(first == "aaaaa");
      co_await pair->stream.next_record();
      std::string whole;
      co_await pair->stream.read_rest(whole);
      CHECK(whole == "next");
      CHECK(co_await pair->stream.read_some(first.data(), 5) == 0);
    }
  };
  wall.run(main());
}

TEST_CASE("record stream: a read that was cancelled anywhere leaves the way to the next record", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const std::string stream = fragment("abcdef", false) + fragment("gh", true);
    for (std::size_t come = 0; come <= stream.size(); ++come) {
      CAPTURE(come);
      const auto pair = co_await connected(100);
      std::string record;
      auto read = [](RecordStream& from, std::string& into) -> task<> {
        co_await from.next_record();
        co_await from.read_rest(into);
      };
      co_await send(pair->peer, stream.substr(0, come));
      const auto wait = come == stream.size() ? base::Duration(10s) : base::Duration(5ms);
      CHECK(co_await base::finished_within(timeline, wait, read(pair->stream, record)) == (come == stream.size()));
      co_await send(pair->peer, stream.substr(come) + fragment("next", true));
      co_await read(pair->stream, record);
      // A record of which nothing had been taken is not passed over.
      if (record == "abcdefgh") co_await read(pair->stream, record);
      CHECK(record == "next");
    }
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("record stream: faults are told, the end of the connection is a system error", "[transport]") {
  test::Wall wall;
  auto main = []() -> task<> {
    const auto fault_of = [](std::string bytes) -> task<std::string> {
      const auto pair = co_await connected(100);
      co_await send(pair->peer, bytes);
      pair->peer.close();
      std::string three(3, '\0');
      try {
        co_await pair->stream.next_record();
        co_await pair->stream.read_exactly(three.data(), 3, "three bytes");
      } catch (const WireFault& fault) {
        co_return fault.what();
      } catch (const boost::system::system_error& error) {
        co_return error.code() == asio::error::eof ? "closed" : "other";
      }
      co_return "none";
    };
    CHECK(co_await fault_of(fragment("abc", true)) == "none");
    CHECK(co_await fault_of(fragment("a", true)) == "the record ends 2 bytes before the end of three bytes");
    CHECK_THAT(co_await fault_of(fragment(std::string(101, 'x'), true)), Catch::Contains("limit of 100"));
    CHECK(co_await fault_of("") == "closed");
    CHECK(co_await fault_of(fragment("ab", false)) == "closed");
  };
  wall.run(main());
}

TEST_CASE("record stream: a write that was cut short says so", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto pair = co_await connected(100);
    const std::string much(std::size_t{64} << 20U, 'x');  // more than the system's buffers hold
    auto write = [](RecordStream& to, const std::string& bytes) -> task<> { co_await to.write({asio::buffer(bytes)}); };
    CHECK_FALSE(pair->stream.is_cut());
    CHECK_FALSE(co_await base::finished_within(timeline, 50ms, write(pair->stream, much)));
    CHECK(pair->stream.is_cut());
    CHECK_FALSE(pair->stream.write_at_once("more"));
  };
  wall.run(main(*wall.timeline));
}
