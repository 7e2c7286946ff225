// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/status.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::scpi;

TEST_CASE("status: a service request is reported once by serial polls and always by *STB?", "[scpi]") {
  // Vector of the interface facts: ESE 1, SRE 32, *OPC done -> ESR 1, STB 0x20; serial poll 0x60 once, then 0x20;
  // *STB? 96.
  Status status;
  status.read_event();
  status.set_event_enable(1);
  status.set_service_enable(32);
  CHECK(int{status.status_byte(false)} == 0);
  status.set_event(Status::opc);
  status.notice(false);
  CHECK(int{status.status_to_announce(false)} == 0x60);  // announcing it clears nothing
  CHECK(int{status.serial_poll(false)} == 0x60);
  CHECK(int{status.serial_poll(false)} == 0x20);
  CHECK(int{status.status_to_announce(true)} == 0x30);
  CHECK(int{status.status_byte(false)} == 96);
  CHECK(int{status.read_event()} == 1);
  CHECK(int{status.status_byte(false)} == 0);
  // A new reason asks again.
  CHECK(int{status.serial_poll(false)} == 0);
  status.set_event(Status::opc);
  CHECK(int{status.serial_poll(false)} == 0x60);
}

TEST_CASE("status: power-on is the first event, reading the register clears it", "[scpi]") {
  Status status;
  CHECK(int{status.read_event()} == 128);
  CHECK(int{status.read_event()} == 0);
}

TEST_CASE("status: errors set the queue bit and the bit of their class", "[scpi]") {
  Status status;
  status.read_event();
  status.push_error(-113);
  CHECK(int{status.status_byte(false)} == 4);
  CHECK(int{status.read_event()} == 32);
  CHECK(status.errors().pop().number == -113);
  CHECK(int{status.status_byte(true)} == 16);
}

TEST_CASE("status: bit 6 of the service enable is ignored", "[scpi]") {
  Status status;
  status.set_service_enable(255);
  CHECK(int{status.service_enable()} == 0xBF);  // IEEE 488.2, 10.34
}

TEST_CASE("status registers: transitions pass their filters, events latch until read", "[scpi]") {
  StatusRegister reg;
  reg.set_condition_bit(4, true);
  reg.set_condition_bit(4, false);
  CHECK(reg.condition() == 0);
  CHECK(reg.read_event() == 16);
  CHECK(reg.read_event() == 0);
  reg.set_positive_filter(0);
  reg.set_negative_filter(16);
  reg.set_condition_bit(4, true);
  CHECK(reg.read_event() == 0);
  reg.set_condition_bit(4, false);
  CHECK(reg.read_event() == 16);
}

TEST_CASE("status registers: bit 15 is always 0 and a preset restores the filters", "[scpi]") {
  StatusRegister reg;
  reg.set_enable(0xFFFF);
  CHECK(reg.enable() == 0x7FFF);
  reg.set_condition(0xFFFF);
  CHECK(reg.condition() == 0x7FFF);
  reg.set_negative_filter(7);
  reg.preset();  // SCPI-99 Vol. 2, 20.2
  CHECK(reg.enable() == 0);
  CHECK(reg.positive_filter() == 0x7FFF);
  CHECK(reg.negative_filter() == 0);
  CHECK(reg.read_event() == 0x7FFF);
}

TEST_CASE("status: clearing takes events and errors and leaves enables", "[scpi]") {
  Status status;
  status.set_event_enable(32);
  status.operation.set_enable(16);
  status.operation.set_condition_bit(4, true);
  status.push_error(-101);
  CHECK(int{status.status_byte(false)} == (4 | 32 | 128));
  status.clear();
  CHECK(int{status.status_byte(false)} == 0);
  CHECK(int{status.event_enable()} == 32);
  CHECK(status.operation.enable() == 16);
  CHECK(status.operation.condition() == 16);
}

TEST_CASE("status: each new reason counts as one request for service, polled or not", "[scpi]") {
  Status status;
  status.read_event();
  status.set_event_enable(1);
  status.set_service_enable(0x30);  // ESB and MAV
  status.notice(false);
  CHECK(status.requests() == 0);
  status.set_event(Status::opc);
  status.notice(false);
  status.notice(false);
  CHECK(status.requests() == 1);
  status.notice(true);  // a further enabled bit rises
  CHECK(status.requests() == 2);
  CHECK(int{status.serial_poll(true)} == 0x70);
  CHECK(int{status.serial_poll(true)} == 0x30);
  CHECK(status.requests() == 2);
}
