// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/relay_box.hpp"

#include <algorithm>
#include <utility>

#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {
namespace {

constexpr double moves_s = 5e-3;

}  // namespace

SimulatedRelayBox::SimulatedRelayBox(base::Timeline& timeline, int relays, std::string identity)
    : ScpiInstrument(timeline, std::move(identity), "SWITCHER"), relays_(static_cast<std::size_t>(relays)) {
  on("ROUTe:CLOSe", [this](Call& call) {
    for (const int relay : relays_of(call)) move(relay, true);
  });
  on("ROUTe:CLOSe?", [this](Call& call) {
    for (const int relay : relays_of(call)) call.response.boolean(relays_[static_cast<std::size_t>(relay - 1)].closed);
  });
  on("ROUTe:OPEN", [this](Call& call) {
    for (const int relay : relays_of(call)) move(relay, false);
  });
  on("ROUTe:OPEN?", [this](Call& call) {
    for (const int relay : relays_of(call)) call.response.boolean(!relays_[static_cast<std::size_t>(relay - 1)].closed);
  });
  on("ROUTe:OPEN:ALL", [this](Call& call) {
    call.expect(0, 0);
    SimulatedRelayBox::reset();
  });
}

void SimulatedRelayBox::reset() {
  for (std::size_t i = 0; i < relays_.size(); ++i) move(static_cast<int>(i + 1), false);
}

std::vector<int> SimulatedRelayBox::relays_of(const Call& call) const {
  call.expect(1, 1);
  std::vector<int> list = call.parameter().channel_list();
  // All or nothing: none moves when one is not there.
  const auto most = static_cast<int>(relays_.size());
  if (std::any_of(list.begin(), list.end(), [&](int relay) { return relay < 1 || relay > most; }))
    throw scpi::CommandError(-222, "no such relay");
  return list;
}

void SimulatedRelayBox::move(int relay, bool closed) {
  Relay& one = relays_[static_cast<std::size_t>(relay - 1)];
  if (one.closed == closed) return;
  one = {closed, now_s()};
  settle_operation();
}

bool SimulatedRelayBox::makes_contact(int relay) const {
  const Relay& one = relays_.at(static_cast<std::size_t>(relay - 1));
  const bool has_moved = one.told_s < 0 || now_s() >= one.told_s + moves_s;
  return has_moved ? one.closed : !one.closed;
}

void SimulatedRelayBox::settle_operation() {
  int contacts = 0;
  bool moving = false;
  for (std::size_t i = 0; i < relays_.size(); ++i) {
    contacts += makes_contact(static_cast<int>(i + 1)) ? 1 : 0;
    moving |= relays_[i].told_s >= 0 && now_s() < relays_[i].told_s + moves_s;
  }
  most_contacts_ = std::max(most_contacts_, contacts);
  status().operation.set_condition_bit(1, moving);
}

bool SimulatedRelayBox::operation_pending() { return (status().operation.condition() & 2U) != 0; }

base::Duration SimulatedRelayBox::next_look() {
  double until_s = now_s();
  for (const Relay& one : relays_) until_s = std::max(until_s, one.told_s + moves_s);
  return base::from_seconds(until_s) + base::Duration(1);
}

}  // namespace eyelevel::sim
