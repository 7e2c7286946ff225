// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/link.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;

namespace {

// A carrier that has messages and nothing else.
class PlainLink final : public Link {
 public:
  explicit PlainLink(std::string answer) : answer_(std::move(answer)) {}
  const std::string& resource_name() const override { return name_; }
  task<> write(std::string_view message) override {
    written.emplace_back(message);
    co_return;
  }
  task<> read(Buffer& into, std::size_t /*most*/) override {
    into = answer_;
    co_return;
  }
  task<> clear() override { co_return; }
  void close() noexcept override {}

  std::vector<std::string> written;

 private:
  std::string name_ = "ASRL1::INSTR";
  std::string answer_;
};

}  // namespace

TEST_CASE("link: without a way out of band the status byte is asked by message", "[transport]") {
  test::Simulated sim;
  const auto body = []() -> task<> {
    PlainLink link("96");
    CHECK(int{co_await link.status_byte()} == 96);
    co_await link.trigger();
    CHECK(link.written == std::vector<std::string>{"*STB?", "*TRG"});
  };
  sim.run(body());
}

TEST_CASE("link: an answer to *STB? that is no status byte is shown", "[transport]") {
  for (const char* answer : {"", "256", "-1", "1.5", "0x20", "busy"}) {
    CAPTURE(answer);
    test::Simulated sim;
    const auto body = [](std::string text) -> task<> {
      PlainLink link(text);
      std::string message;
      std::string received = "none";
      try {
        co_await link.status_byte();
      } catch (const base::Error& error) {
        message = error.record().message;
        received = error.record().received;
      }
      CHECK_THAT(message, Catch::Contains("not answered by a status byte"));
      CHECK(received == text);
    };
    sim.run(body(answer));
  }
}
