// SPDX-License-Identifier: Apache-2.0
// The status model of an instrument (IEEE 488.2 chapter 11; SCPI-99 Vol. 2, ch. 20): status byte, standard event
// status, OPERation and QUEStionable registers with their filters, error/event queue. Server side; no I/O.
#pragma once

#include <cstdint>
#include <string_view>

#include "instruments/scpi/error_queue.hpp"

namespace eyelevel::scpi {

// One SCPI register set: condition -> transition filters -> event -> enable -> summary. Bit 15 is always 0.
class StatusRegister {
 public:
  void set_condition(std::uint16_t bits);
  void set_condition_bit(int bit, bool on);
  std::uint16_t condition() const { return condition_; }
  std::uint16_t read_event();  // and clears it
  std::uint16_t enable() const { return enable_; }
  void set_enable(std::uint16_t bits) { enable_ = bits & 0x7FFF; }
  std::uint16_t positive_filter() const { return positive_; }
  void set_positive_filter(std::uint16_t bits) { positive_ = bits & 0x7FFF; }
  std::uint16_t negative_filter() const { return negative_; }
  void set_negative_filter(std::uint16_t bits) { negative_ = bits & 0x7FFF; }
  bool summary() const { return (event_ & enable_) != 0; }
  void preset();  // enable 0, rising transitions pass, falling do not
  void clear() { event_ = 0; }

 private:
  std::uint16_t condition_ = 0;
  std::uint16_t event_ = 0;
  std::uint16_t enable_ = 0;
  std::uint16_t positive_ = 0x7FFF;
  std::uint16_t negative_ = 0;
};

class Status {
 public:
  enum EventBit : std::uint8_t { opc = 1, rqc = 2, qye = 4, dde = 8, exe = 16, cme = 32, urq = 64, pon = 128 };

  Status() { event_ = pon; }

  void push_error(int number, std::string_view detail = {});  // queue and event status bit
  void set_event(std::uint8_t bits) { event_ |= bits; }
  std::uint8_t read_event();  // *ESR?: and clears it
  std::uint8_t event_enable() const { return event_enable_; }
  void set_event_enable(std::uint8_t bits) { event_enable_ = bits; }
  std::uint8_t service_enable() const { return service_enable_; }
  void set_service_enable(std::uint8_t bits) { service_enable_ = bits & 0xBF; }  // bit 6 is ignored (10.34)

  // *STB?: with MSS in bit 6. `message_available` is bit 4.
  std::uint8_t status_byte(bool message_available) const;
  // Looks for a new reason for service, which sets RQS; to be called after whatever may have brought one (11.3.3).
  void notice(bool message_available);
  // How often service was requested since power-on.
  std::uint64_t requests() const { return requests_; }
  // What a serial poll would give, without clearing RQS.
  std::uint8_t polled(bool message_available) const;
  // A serial poll: RQS in bit 6, cleared by it; set again only by a new reason for service (11.3.3).
  std::uint8_t serial_poll(bool message_available);
  // The same, and nothing is cleared: what goes out with a service request.
  std::uint8_t status_to_announce(bool message_available) const;

  void clear();  // *CLS: events and queue; enables and filters stay

  ErrorQueue& errors() { return errors_; }
  StatusRegister operation;
  StatusRegister questionable;

 private:
  std::uint8_t without_service(bool message_available) const;

  ErrorQueue errors_;
  std::uint8_t event_ = 0;
  std::uint8_t event_enable_ = 0;
  std::uint8_t service_enable_ = 0;
  std::uint8_t reasons_ = 0;  // for service, when last looked
  bool requesting_ = false;   // RQS
  std::uint64_t requests_ = 0;
};

}  // namespace eyelevel::scpi
