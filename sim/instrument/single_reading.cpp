// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/single_reading.hpp"

#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {
namespace {

constexpr double bus_look_s = 10e-3;
constexpr int measuring_bit = 4, waiting_bit = 5;

}  // namespace

void SingleReading::register_reading() {
  on("ABORt", [this](Call& call) {
    call.expect(0, 0);
    go_idle();
  });
  on("INITiate[:IMMediate][:ALL]", [this](Call& call) {
    call.expect(0, 0);
    initiate();
  });
}

void SingleReading::initiate() {
  if (state_ != State::idle) throw scpi::CommandError(-213);
  invalidate();
  state_ = State::waiting;
  status().operation.set_condition_bit(waiting_bit, true);
  if (starts() == Start::at_once) start();
}

void SingleReading::start() {
  state_ = State::measuring;
  begun_s_ = now_s();
  status().operation.set_condition_bit(waiting_bit, false);
  status().operation.set_condition_bit(measuring_bit, true);
}

void SingleReading::go_idle() {
  state_ = State::idle;
  status().operation.set_condition(0);
}

void SingleReading::bus_trigger() {
  if (state_ != State::waiting || starts() != Start::by_bus) throw scpi::CommandError(-211);
  start();
}

base::Duration SingleReading::next_look() {
  const double when_s = state_ == State::measuring ? begun_s_ + duration_s() : now_s() + bus_look_s;
  return base::from_seconds(when_s) + base::Duration(1);
}

void SingleReading::settle_operation() {
  if (state_ != State::measuring || now_s() < begun_s_ + duration_s()) return;
  go_idle();
  reading_ = measured(begun_s_);
  valid_ = true;
}

task<> SingleReading::fetch(Call& call) {
  co_await finish();
  if (!valid_) throw scpi::CommandError(-230);
  call.response.nr3(reading_, digits_);
}

}  // namespace eyelevel::sim
