// SPDX-License-Identifier: Apache-2.0
// A lead that a person moves from place to place: what hangs on it sees the place where it lay at each moment. An empty
// place is a short: 0 V. The oldest moves are forgotten after a thousand.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <string>

#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

class MovedLead final : public SignalSource {
 public:
  using Places = std::map<std::string, std::shared_ptr<SignalSource>, std::less<>>;
  // Lies at `first`, one of the places, from the beginning.
  MovedLead(Places places, const std::string& first);

  // One more place to which it may be moved.
  void add(const std::string& place, std::shared_ptr<SignalSource> source) { places_[place] = std::move(source); }

  // From `now_s` on; never before an earlier move. False: there is no such place, and nothing was moved.
  bool move(std::string_view place, double now_s);

  void render(double start_s, double rate_hz, std::span<float> volts, const Load& load) override;
  double mean_v(double from_s, double until_s, const Load& load) override;

 private:
  struct Move {
    double from_s;
    std::shared_ptr<SignalSource> to;
  };
  // The index of the move that counts at a time.
  std::size_t at(double time_s) const;
  double until_s(std::size_t move) const;

  Places places_;
  std::deque<Move> moves_;
};

}  // namespace eyelevel::sim
