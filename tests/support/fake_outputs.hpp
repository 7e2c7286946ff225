// SPDX-License-Identifier: Apache-2.0
// Instruments with outputs, relays and a counter that answer from memory: beside those of fake_bench.hpp. What they
// were told last is public; every call counts.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "core/bench/kind/counter.hpp"
#include "core/bench/kind/function_generator.hpp"
#include "core/bench/kind/power_supply.hpp"
#include "core/bench/kind/relay_box.hpp"
#include "tests/support/fake_bench.hpp"

namespace eyelevel::test {

// What the test sees of them.
struct FakeOutputs {
  bool supply_on = false, supply_tripped = false, generator_on = false;
  std::vector<std::string> closed;
  std::vector<double> voltages;  // set up, in order
  bench::FrequencySetting counter;
  double frequency_hz = 1000;
};

template <class Kind>
class FakeOther : public Kind {
 public:
  FakeOther(std::string role, base::Timeline& timeline, FakeCalls& calls, FakeOutputs& outputs)
      : role_(std::move(role)), timeline_(timeline), calls_(calls), outputs_(outputs) {}

  task<std::string> greet(base::Duration) override {
    co_await call("greet");
    co_return "Fake," + role_ + ",SN 1,1.0";
  }
  task<std::optional<int>> self_test(base::Duration) override {
    co_await call("self-test");
    co_return std::optional<int>(0);
  }
  void close() noexcept override {}

 protected:
  task<> call(std::string what) { return calls_.call(timeline_, std::move(what) + " " + role_); }
  FakeOutputs& outputs() { return outputs_; }

 private:
  std::string role_;
  base::Timeline& timeline_;
  FakeCalls& calls_;
  FakeOutputs& outputs_;
};

class FakeSupply : public FakeOther<bench::PowerSupply> {
 public:
  using FakeOther::FakeOther;
  task<std::vector<bench::SettingTaken>> set_up(int, const bench::OutputSetting& setting, base::Duration) override {
    const double voltage_v = setting.voltage_v;
    co_await call("set up");
    outputs().supply_on = false;
    outputs().voltages.push_back(voltage_v);
    co_return std::vector<bench::SettingTaken>{{"voltage", "5 V", "5 V"}};
  }
  task<> switch_on(int, base::Duration) override {
    co_await call("switch on");
    outputs().supply_on = true;
  }
  task<> switch_off(int, base::Duration) override {
    co_await call("switch off");
    outputs().supply_on = false;
  }
  task<bench::OutputReading> read(int, base::Duration) override {
    co_await call("read");
    co_return bench::OutputReading{outputs().supply_on, outputs().supply_tripped, 5.001, 0.042};
  }
  task<> make_safe(base::Duration) override {
    co_await call("make safe");
    outputs().supply_on = false;
  }
};

class FakeGenerator : public FakeOther<bench::FunctionGenerator> {
 public:
  using FakeOther::FakeOther;
  task<std::vector<bench::SettingTaken>> set_up(int, const bench::SignalSetting&, base::Duration) override {
    co_await call("set up");
    co_return std::vector<bench::SettingTaken>{{"frequency", "1 kHz", "1 kHz"}};
  }
  task<> switch_on(int, base::Duration) override {
    co_await call("switch on");
    outputs().generator_on = true;
  }
  task<> switch_off(int, base::Duration) override {
    co_await call("switch off");
    outputs().generator_on = false;
  }
  task<> make_safe(base::Duration) override {
    co_await call("make safe");
    outputs().generator_on = false;
  }
};

class FakeCounter : public FakeOther<bench::Counter> {
 public:
  using FakeOther::FakeOther;
  task<std::vector<bench::SettingTaken>> set_up_frequency(const bench::FrequencySetting& setting,
                                                          base::Duration) override {
    outputs().counter = setting;
    co_await call("set up");
    co_return std::vector<bench::SettingTaken>{{"gate", "100 ms", "100 ms"}};
  }
  task<double> read_frequency(base::Duration) override {
    co_await call("count");
    co_return outputs().frequency_hz;
  }
  task<> make_safe(base::Duration) override { co_await call("make safe"); }
};

class FakeRelays : public FakeOther<bench::RelayBox> {
 public:
  using FakeOther::FakeOther;
  task<std::vector<bench::SettingTaken>> close_only(const std::vector<std::string>& ways, base::Duration) override {
    outputs().closed = ways;
    co_await call("close");
    co_return std::vector<bench::SettingTaken>{{"closed", "pad", "pad"}};
  }
  task<std::vector<std::string>> closed(base::Duration) override {
    co_await call("closed");
    co_return outputs().closed;
  }
  task<> make_safe(base::Duration) override {
    co_await call("make safe");
    outputs().closed.clear();
  }
};

}  // namespace eyelevel::test
