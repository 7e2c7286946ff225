// SPDX-License-Identifier: Apache-2.0
// A plugin that is a shared library: loaded, asked on a thread of its own, given up when it does not return in time.
// It is never unloaded, because nobody knows what it has left running. A crash of it is a crash of the program.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "instruments/plugin/library/border.hpp"
#include "instruments/plugin/library/hand.hpp"
#include "instruments/plugin/manifest.hpp"

namespace eyelevel::plugin::library {

class Library {
 public:
  // Throws Error(bad_input) when it cannot be loaded, (time_out), (bad_answer) for what it declares.
  explicit Library(Manifest manifest);

  const std::vector<PartFound>& parts() const { return parts_; }
  // Throws Error: time_out, bad_answer, instrument_error (its own words).
  task<registers::Answer> ask(const PartFound& part, registers::Question question, base::Timeline& caller,
                              base::Duration within);

  const Manifest& manifest() const { return manifest_; }
  // For its links, which are called on the same thread.
  const std::shared_ptr<Hand>& hand() const { return hand_; }

 private:
  Manifest manifest_;
  std::string from_;
  std::shared_ptr<Hand> hand_ = std::make_shared<Hand>();
  std::vector<PartFound> parts_;
};

}  // namespace eyelevel::plugin::library
