// SPDX-License-Identifier: Apache-2.0
// The suite over every transport, continued: triggers, serial polls, service requests, locks, remote and local.
#include "core/base/gong.hpp"
#include "tests/contract/transport_bench.hpp"
#include "tests/support/error_in.hpp"

using namespace eyelevel;
using namespace eyelevel::test;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

// A device that knows more than messages.
class PolledDevice final : public Device {
 public:
  explicit PolledDevice(base::Timeline& timeline) : timeline_(timeline) {}

  task<> execute(std::string_view message, Reply& reply) override {
    messages.emplace_back(message);
    if (message.starts_with("ASK ")) {  // for service, after so many milliseconds
      co_await timeline_.sleep(std::chrono::milliseconds(number_in(message)));
      ++requests_;
      asked_.strike();
    } else if (message == "*STB?") {
      reply.bytes = "32";
    } else if (message == "SYST:COMM:TCP:CONT?") {
      reply.bytes = std::to_string(control_port_);
    } else if (message == "ECHO?") {
      reply.bytes = "echo";
    }
  }
  void clear() override {}
  std::uint8_t serial_poll(bool message_available) override {
    ++polls;
    return static_cast<std::uint8_t>(0x20U | (message_available ? 0x10U : 0U));
  }
  std::uint8_t status_byte(bool message_available) override {
    return static_cast<std::uint8_t>(0x60U | (message_available ? 0x10U : 0U));
  }
  std::uint64_t service_requests() override { return requests_; }
  task<std::uint64_t> service_requested(std::uint64_t seen) override {
    while (requests_ <= seen) co_await asked_.wait();
    co_return requests_;
  }
  void control_is_at(std::uint16_t port) override { control_port_ = port; }
  void remote_local(RemoteLocal what) override { control.push_back(what); }

  std::vector<std::string> messages;
  std::vector<RemoteLocal> control;
  int polls = 0;

 private:
  base::Timeline& timeline_;
  std::uint64_t requests_ = 0;
  std::uint16_t control_port_ = 0;
  base::Gong asked_;
};

using PolledBody = std::function<task<>(Bench, PolledDevice&, const CarrierUnderTest&)>;

void with_polled_device(const PolledBody& body) {
  for (const auto& carrier : carriers()) {
    INFO("over " << carrier.name);
    std::shared_ptr<PolledDevice> device;
    carrier.run([&](base::Timeline& timeline) { return device = std::make_shared<PolledDevice>(timeline); },
                [&](Bench bench) { return body(bench, *device, carrier); });
  }
}

}  // namespace

TEST_CASE("transport contract: a trigger reaches the instrument after what was sent before", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest&) -> task<> {
    co_await bench.session.write("INIT", generous);
    co_await bench.session.trigger(generous);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    CHECK(device.messages == std::vector<std::string>{"INIT", "*TRG", "ECHO?"});
  });
}

TEST_CASE("transport contract: the status byte comes out of band where the carrier can, else from *STB?",
          "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest& carrier) -> task<> {
    CHECK(int{co_await bench.session.status_byte(generous)} == 0x20);
    CHECK(device.polls == (carrier.out_of_band ? 1 : 0));
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    CHECK(int{co_await bench.session.status_byte(generous)} == 0x20);  // the answer is read: nothing is available
  });
}

TEST_CASE("transport contract: a service request is waited for, and one that came before is not lost", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice&, const CarrierUnderTest& carrier) -> task<> {
    if (!carrier.service) {
      const auto refused = co_await error_in([&] { return bench.session.wait_for_service(generous); });
      REQUIRE(refused);
      CHECK(refused->code == base::ErrorCode::bad_input);
      CHECK_FALSE(bench.session.dirty());
      co_return;
    }
    CHECK_FALSE(co_await bench.session.wait_for_service(short_wait));
    CHECK_FALSE(bench.session.dirty());
    co_await bench.session.write("ASK 20", generous);
    CHECK(co_await bench.session.wait_for_service(generous));
    CHECK(int{co_await bench.session.status_byte(generous)} == 0x20);
    co_await bench.session.write("ASK 0", generous);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    CHECK(co_await bench.session.wait_for_service(generous));
    CHECK_FALSE(co_await bench.session.wait_for_service(short_wait));
  });
}

TEST_CASE("transport contract: a lock is taken, not given to others, and released", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest& carrier) -> task<> {
    if (!carrier.out_of_band) {
      const auto refused = co_await error_in([&] { return bench.session.lock("", generous); });
      REQUIRE(refused);
      CHECK(refused->code == base::ErrorCode::bad_input);
      co_return;
    }
    co_await bench.session.lock("", generous);
    CHECK(device.access.is_exclusive() == carrier.shared);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
    const auto twice = co_await error_in([&] { return bench.session.lock("", short_wait); });
    REQUIRE(twice);
    co_await bench.session.unlock(generous);
    CHECK_FALSE(device.access.is_exclusive());
    if (!carrier.shared) co_return;  // whoever has opened it is alone
    const auto stranger = device.access.new_holder();
    REQUIRE(device.access.take(stranger, ""));
    const auto locked = co_await error_in([&] { return bench.session.lock("", short_wait); });
    REQUIRE(locked);
    CHECK(locked->code == base::ErrorCode::no_connection);
    CHECK_THAT(locked->message, Catch::Contains("lock"));
    device.access.forget(stranger);
    CHECK(co_await bench.session.query("ECHO?", generous) == "echo");
  });
}

TEST_CASE("transport contract: remote and local reach the instrument", "[contract]") {
  with_polled_device([](Bench bench, PolledDevice& device, const CarrierUnderTest& carrier) -> task<> {
    if (!carrier.out_of_band) {
      const auto refused = co_await error_in([&] { return bench.session.remote_local(RemoteLocal::local, generous); });
      CHECK(refused);
      co_return;
    }
    co_await bench.session.remote_local(RemoteLocal::remote, generous);
    co_await bench.session.remote_local(RemoteLocal::local, generous);
    CHECK(device.control == std::vector<RemoteLocal>{RemoteLocal::remote, RemoteLocal::local});
  });
}
