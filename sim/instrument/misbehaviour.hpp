// SPDX-License-Identifier: Apache-2.0
// What real instruments do to their users, switched on for a simulated one: a wrapper that passes messages on and
// spoils what comes back. Any number at once. Not for faults of the player: those are physics.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"
#include "sim/instrument/scpi_instrument.hpp"

namespace eyelevel::sim {

// What each does stands in the table of misbehaviour.cpp, in words for users.
enum class Misbehaviour {
  silent,
  late,
  trickle,
  garbage,
  signs_in_identity,
  long_answer,
  endless_answer,
  stops_within_answer,
  close_in_answer,
  close_after_answer,
  block_too_short,
  block_too_long,
  block_without_length,
  not_a_number,
  error_in_queue,
  setting_not_taken,
  knob_turned,
  no_service_requests,
  wrong_status_byte,
  locked,
  deaf,
  wrong_message_id,
  wrong_message_type,
};

struct Fault {
  Misbehaviour kind = Misbehaviour::silent;
  int from_query = 1;                    // the first query that it touches, counted from 1 after the fault was added
  int queries = 0;                       // how many queries it touches; 0: all that follow
  double delay_s = 10;                   // late; trickle: between two bytes
  std::optional<std::size_t> at_byte{};  // stops_within_answer, close_in_answer; empty: in the middle
  double megabytes = 100;                // long_answer
  int error = -240;                      // error_in_queue: the number
  std::string header{};                  // setting_not_taken, knob_turned: as a client types it
};

std::string_view name_of(Misbehaviour kind);
// "late=S", as it is typed; S stands for a number, what is in brackets may be left out.
std::string usage_of(Misbehaviour kind);
std::string_view about(Misbehaviour kind);
// Every kind, for lists and tests.
const std::vector<Misbehaviour>& all_misbehaviours();
// "late", "late=3", "error-in-queue=-310@5": a name, its value, the query from which it strikes. Throws
// Error(bad_input).
Fault parse_misbehaviour(const std::string& text);

class MisbehavingDevice final : public transport::Device {
 public:
  MisbehavingDevice(base::Timeline& timeline, std::shared_ptr<ScpiInstrument> inner);

  // Throws Error(bad_input) for a setting that the instrument does not have.
  void add(Fault fault);
  void behave();  // a setting that is not taken stays so

  task<> execute(std::string_view message, transport::Reply& reply) override;
  void clear() override;
  std::uint8_t serial_poll(bool message_available) override;
  std::uint8_t status_byte(bool message_available) override { return inner_->status_byte(message_available); }
  std::uint64_t service_requests() override;
  std::uint8_t status_to_announce(bool message_available) override {
    return inner_->status_to_announce(message_available);
  }
  void answer_waits() override { inner_->answer_waits(); }
  task<std::uint64_t> service_requested(std::uint64_t seen) override;
  void query_error(int number) override { inner_->query_error(number); }
  void control_is_at(std::uint16_t port) override { inner_->control_is_at(port); }
  bool greets() override { return !has(Misbehaviour::deaf); }

 private:
  struct Active {
    Fault fault;
    int seen = 0;  // queries since it was added
  };

  bool has(Misbehaviour kind) const;
  task<> spoil(const Fault& fault, std::string_view message, transport::Reply& reply);

  base::Timeline& timeline_;
  std::shared_ptr<ScpiInstrument> inner_;
  std::vector<Active> faults_;
  std::optional<transport::AccessLock::Holder> stranger_;  // who locked it
};

}  // namespace eyelevel::sim
