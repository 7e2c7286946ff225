// SPDX-License-Identifier: Apache-2.0
// What every instrument kind has in common.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"

namespace eyelevel::bench {

// A setting as asked and as the instrument states it.
struct SettingTaken {
  std::string setting;
  std::string asked;
  std::string read_back;
};

class Instrument {
 public:
  Instrument() = default;
  Instrument(const Instrument&) = delete;
  Instrument& operator=(const Instrument&) = delete;
  virtual ~Instrument() = default;

  // Asks who it is (maker, model, serial, firmware as one line) and clears its status; first call after opening.
  virtual task<std::string> greet(base::Duration within) = 0;
  // What it finds when it tests itself: 0 when nothing is wrong, otherwise a number of its own (IEEE 488.2, 10.38);
  // empty when it cannot. Its settings are not what they were before.
  virtual task<std::optional<int>> self_test(base::Duration within) = 0;
  // Leaves the instrument harmless: acquisitions stopped, outputs off. Called in `closing`, also after errors; it first
  // clears the link if that is dirty.
  virtual task<> make_safe(base::Duration within) = 0;
  // Closes the link; never throws.
  virtual void close() noexcept = 0;
};

}  // namespace eyelevel::bench
