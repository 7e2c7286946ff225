// SPDX-License-Identifier: Apache-2.0
// Whoever fails to sign in waits longer each time: five tries for nothing, then 1 s, 2 s, 4 s ... to 15 min. A pure
// value; time is an argument. NIST SP 800-63B, 5.2.2 wants guessing limited; the figures are common practice.
#pragma once

#include <cstddef>
#include <map>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"

namespace eyelevel::service {

class BackOff {
 public:
  static constexpr int free_tries = 5;
  static constexpr base::Duration longest = std::chrono::minutes(15);
  static constexpr base::Duration forgotten_after = std::chrono::hours(1);
  static constexpr std::size_t most = 10'000;  // keys remembered; of more, the one tried longest ago is forgotten

  // Until the next try may be made; zero: now.
  base::Duration wait(std::string_view key, base::Duration now) const;
  // Before the password is looked at, so that many tries at once count as many.
  void tried(std::string_view key, base::Duration now);
  void succeeded(std::string_view key);

 private:
  struct Tries {
    int count = 0;
    base::Duration last{};
  };
  std::map<std::string, Tries, std::less<>> tries_;
};

}  // namespace eyelevel::service
