// SPDX-License-Identifier: Apache-2.0
// The client of an installed VISA library, against the small one of little_visa.cpp.
#include "instruments/transport/visa/client.hpp"

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/transports.hpp"
#include "tests/support/error_in.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using test::error_of;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

constexpr base::Duration generous = 10s;

struct Bench {
  test::Wall wall;
  Transports transports;

  Bench() { add_visa(transports, LITTLE_VISA); }
  void run(task<> (*body)(Bench&)) { wall.run(body(*this)); }
  task<std::unique_ptr<transport::Session>> open(std::string name = "GPIB::5") {
    return transports.open_session(std::move(name), *wall.timeline, generous);
  }
};

}  // namespace

TEST_CASE("visa client: messages and blocks of every size arrive whole, in as many pieces as the library makes of them",
          "[transport]") {
  Bench bench;
  bench.run([](Bench& b) -> task<> {
    const auto session = co_await b.open();
    CHECK(session->resource_name() == "GPIB0::5::INSTR");
    CHECK(co_await session->query("*IDN?", generous) == "Little,Instrument,0,1.0");
    for (const std::size_t size : {0U, 1U, 65536U, 1048566U, 1048567U, 1048568U, 3000001U}) {
      CAPTURE(size);
      const auto answer = co_await session->query("BLOC? " + std::to_string(size), generous);
      const std::string digits = std::to_string(size);
      REQUIRE((answer == "#" + std::to_string(digits.size()) + digits + std::string(size, 'x')));
    }
    for (const std::size_t size : {993U, 994U, 5000U})
      CHECK(co_await session->query("SIZE? " + std::string(size, 'y'), generous) == std::to_string(size + 6));
  });
}

TEST_CASE("visa client: silence ends at the deadline although the library's read blocks, and the next answer is right",
          "[transport]") {
  Bench bench;
  bench.run([](Bench& b) -> task<> {
    const auto session = co_await b.open();
    auto error = co_await error_of([&]() -> task<> { co_await session->query("NEVER?", 50ms); });
    CHECK(error.code == base::ErrorCode::time_out);
    CHECK(error.where == "GPIB0::5::INSTR");
    error = co_await error_of([&]() -> task<> { co_await session->query("SLOW? 300", 50ms); });
    CHECK(error.code == base::ErrorCode::time_out);
    CHECK(co_await session->query("*IDN?", generous) == "Little,Instrument,0,1.0");
    CHECK(co_await session->query("SLOW? 500", generous) == "late");  // longer than a slice
  });
}

TEST_CASE("visa client: an answer beyond the limit is refused", "[transport]") {
  Bench bench;
  bench.run([](Bench& b) -> task<> {
    const auto session = co_await b.open();
    const auto error = co_await error_of([&]() -> task<> { co_await session->query("BLOC? 3000000", generous, 1000); });
    CHECK(error.code == base::ErrorCode::bad_answer);
    CHECK_THAT(error.message, Catch::Contains("limit of 1000 bytes"));
    CHECK(co_await session->query("*IDN?", generous) == "Little,Instrument,0,1.0");
  });
}

TEST_CASE("visa client: triggers, serial polls and service requests go beside the messages", "[transport]") {
  Bench bench;
  bench.run([](Bench& b) -> task<> {
    const auto session = co_await b.open();
    const int before = std::stoi(co_await session->query("TRIGGERS?", generous));
    co_await session->trigger(generous);
    CHECK(std::stoi(co_await session->query("TRIGGERS?", generous)) == before + 1);
    CHECK(int{co_await session->status_byte(generous)} == 0x04);
    CHECK_FALSE(co_await session->wait_for_service(50ms));
    co_await session->write("SRQ", generous);
    CHECK(co_await session->wait_for_service(generous));
    CHECK(int{co_await session->status_byte(generous)} == 0x44);
    CHECK(int{co_await session->status_byte(generous)} == 0x04);
  });
}

TEST_CASE("visa client: a lock keeps others out, who are told so, until it is released", "[transport]") {
  Bench bench;
  bench.run([](Bench& b) -> task<> {
    const auto owner = co_await b.open();
    const auto other = co_await b.open();
    co_await owner->lock("", generous);
    auto error = co_await error_of([&]() -> task<> { co_await other->lock("", 10ms); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK_THAT(error.message, Catch::StartsWith("someone else has locked the instrument"));
    error = co_await error_of([&]() -> task<> { co_await other->query("*IDN?", generous); });
    CHECK(error.message == "someone else has locked the instrument");
    co_await owner->unlock(generous);
    CHECK(co_await other->query("*IDN?", generous) == "Little,Instrument,0,1.0");
    error = co_await error_of([&]() -> task<> { co_await owner->unlock(generous); });
    CHECK(error.message == "no lock is held: VI_ERROR_SESN_NLOCKED, 0xbfff009c");
  });
}

TEST_CASE("visa client: an instrument or a library that is not there is told with what to do", "[transport]") {
  Bench bench;
  bench.run([](Bench& b) -> task<> {
    auto error = co_await error_of([&]() -> task<> { co_await b.open("GPIB::9"); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK(error.where == "GPIB0::9::INSTR");
    CHECK(error.message == "the VISA library says VI_ERROR_RSRC_NFOUND, 0xbfff0011");
    Transports without;
    add_visa(without, "/nowhere/libvisa.so");
    error =
        co_await error_of([&]() -> task<> { co_await without.open_session("GPIB::5", *b.wall.timeline, generous); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK_THAT(error.message, Catch::StartsWith("the VISA library /nowhere/libvisa.so cannot be used: "));
    CHECK_THAT(error.advice, Catch::Contains("is the VISA library of the GPIB interface installed"));
  });
}
