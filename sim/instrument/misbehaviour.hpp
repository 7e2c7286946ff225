// SPDX-License-Identifier: Apache-2.0
// What real instruments do to their users, switched on for a simulated one: a wrapper that passes messages on and
// spoils what comes back. Any number at once. Not for faults of the player: those are physics.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"
#include "sim/instrument/scpi_instrument.hpp"

namespace eyelevel::sim {

enum class Misbehaviour {
  silent,               // gives no answer any more
  late,                 // answers after delay_s
  garbage,              // answers bytes that mean nothing
  close_in_answer,      // closes the connection in the middle of the answer
  block_too_short,      // a block's header announces 4 bytes more than come
  block_too_long,       // a block's header announces 4 bytes fewer than come
  not_a_number,         // one value of the answer is NaN
  error_in_queue,       // an error appears in its queue
  setting_not_taken,    // accepts a command without effect; needs `header`
  stops_within_answer,  // sends the first half of the answer and then nothing
};

struct Fault {
  Misbehaviour kind = Misbehaviour::silent;
  int from_query = 1;    // the first query that it touches, counted from 1 after the fault was added
  int queries = 0;       // how many queries it touches; 0: all that follow
  double delay_s = 10;   // late
  int error = -240;      // error_in_queue: the number
  std::string header{};  // setting_not_taken: as a client types it
};

std::string_view name_of(Misbehaviour kind);
// Every kind, for lists and tests.
const std::vector<Misbehaviour>& all_misbehaviours();

class MisbehavingDevice final : public transport::Device {
 public:
  MisbehavingDevice(base::Timeline& timeline, std::shared_ptr<ScpiInstrument> inner);

  void add(Fault fault);
  void behave() { faults_.clear(); }  // a setting that is not taken stays so

  task<> execute(std::string_view message, transport::Reply& reply) override;
  void clear() override;
  std::uint8_t serial_poll(bool message_available) override { return inner_->serial_poll(message_available); }
  std::uint8_t status_byte(bool message_available) override { return inner_->status_byte(message_available); }
  std::uint64_t service_requests() override { return inner_->service_requests(); }
  std::uint8_t status_to_announce(bool message_available) override {
    return inner_->status_to_announce(message_available);
  }
  void answer_waits() override { inner_->answer_waits(); }
  task<std::uint64_t> service_requested(std::uint64_t seen) override { return inner_->service_requested(seen); }
  void query_error(int number) override { inner_->query_error(number); }
  void control_is_at(std::uint16_t port) override { inner_->control_is_at(port); }

 private:
  struct Active {
    Fault fault;
    int seen = 0;  // queries since it was added
  };

  task<> spoil(const Fault& fault, transport::Reply& reply);

  base::Timeline& timeline_;
  std::shared_ptr<ScpiInstrument> inner_;
  std::vector<Active> faults_;
};

}  // namespace eyelevel::sim
