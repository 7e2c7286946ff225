// SPDX-License-Identifier: Apache-2.0
// The outputs of an instrument that gives something out: which of them the bench file knows, which are set up, and
// their switches, each proven by reading it back. What power supplies and function generators share.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "instruments/phrasebook/conversation.hpp"

namespace eyelevel::phrasebook {

class Outputs {
 public:
  // `output` is the header of the switch, `tripped` that of its protection; empty: it has none. The conversation must
  // outlive it.
  Outputs(Conversation& talk, std::string output, std::string tripped, std::vector<bench::OutputEntry> entries);

  // Throws Error(bad_input) for an output that the bench file does not name.
  const bench::OutputEntry& entry(int output) const;

  // What may be switched on was set up since the instrument was greeted.
  void forget() { ready_.clear(); }
  void forget(int output) { ready_.erase(output); }
  void is_set_up(int output) { ready_.insert(output); }
  // Throws Error(bad_input).
  void require_set_up(int output) const;

  // Throws Error(setting_not_taken), or Error(instrument_error) when the protection has acted.
  task<> prove(int output, bool on, Deadline deadline);
  // All off, then what Conversation::make_safe does, then a proof for each.
  task<> make_safe(Deadline deadline);

 private:
  Conversation& talk_;
  std::string output_;
  std::string tripped_;
  std::vector<bench::OutputEntry> entries_;
  std::set<int> ready_;
};

}  // namespace eyelevel::phrasebook
