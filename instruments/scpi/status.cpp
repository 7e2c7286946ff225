// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/status.hpp"

#include "instruments/scpi/error.hpp"

namespace eyelevel::scpi {

void StatusRegister::set_condition(std::uint16_t bits) {
  bits &= 0x7FFF;
  const auto rising = static_cast<std::uint16_t>(~condition_ & bits & positive_);
  const auto falling = static_cast<std::uint16_t>(condition_ & ~bits & negative_);
  event_ = static_cast<std::uint16_t>(event_ | rising | falling);
  condition_ = bits;
}

void StatusRegister::set_condition_bit(int bit, bool on) {
  const auto mask = static_cast<std::uint16_t>(1U << static_cast<unsigned>(bit));
  set_condition(static_cast<std::uint16_t>(on ? condition_ | mask : condition_ & ~mask));
}

std::uint16_t StatusRegister::read_event() {
  const auto event = event_;
  event_ = 0;
  return event;
}

void StatusRegister::preset() {
  enable_ = 0;
  positive_ = 0x7FFF;
  negative_ = 0;
}

void Status::push_error(int number, std::string_view detail) {
  errors_.push(number, detail);
  event_ |= event_status_bit(number);
}

std::uint8_t Status::read_event() {
  const auto event = event_;
  event_ = 0;
  return event;
}

std::uint8_t Status::without_service(bool message_available) const {
  unsigned byte = 0;
  if (!errors_.empty()) byte |= 1U << 2U;
  if (questionable.summary()) byte |= 1U << 3U;
  if (message_available) byte |= 1U << 4U;
  if ((event_ & event_enable_) != 0) byte |= 1U << 5U;
  if (operation.summary()) byte |= 1U << 7U;
  return static_cast<std::uint8_t>(byte);
}

std::uint8_t Status::status_byte(bool message_available) const {
  const auto byte = without_service(message_available);
  return static_cast<std::uint8_t>(byte | ((byte & service_enable_) != 0 ? 0x40U : 0U));
}

void Status::notice(bool message_available) {
  const auto reasons = static_cast<std::uint8_t>(without_service(message_available) & service_enable_);
  if ((reasons & ~reasons_) != 0) {
    requesting_ = true;
    ++requests_;
  }
  reasons_ = reasons;
}

std::uint8_t Status::polled(bool message_available) const {
  return static_cast<std::uint8_t>(without_service(message_available) | (requesting_ ? 0x40U : 0U));
}

std::uint8_t Status::serial_poll(bool message_available) {
  notice(message_available);
  const auto byte = polled(message_available);
  requesting_ = false;
  return byte;
}

std::uint8_t Status::status_to_announce(bool message_available) const {
  return static_cast<std::uint8_t>(without_service(message_available) | (requesting_ ? 0x40U : 0U));
}

void Status::clear() {
  event_ = 0;
  operation.clear();
  questionable.clear();
  errors_.clear();
}

}  // namespace eyelevel::scpi
