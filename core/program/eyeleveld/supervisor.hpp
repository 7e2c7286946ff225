// SPDX-License-Identifier: Apache-2.0
// What systemd is told of the daemon (sd_notify(3)): that it serves, that it ends, and while its loop turns, that it
// lives. Without systemd nothing of this does anything.
#pragma once

#include <string>

#include "core/base/timeline.hpp"

namespace eyelevel::program {

void tell_ready(const std::string& url);
void tell_reloading();
void tell_stopping();

// Until cancelled. Where a watchdog is set (WATCHDOG_USEC), it hears from the loop twice in each of its times: a loop
// that hangs is ended by it, and the next daemon brings the instruments to safe.
task<> tell_alive(base::Timeline& timeline);

}  // namespace eyelevel::program
