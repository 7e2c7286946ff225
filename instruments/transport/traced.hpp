// SPDX-License-Identifier: Apache-2.0
// A link that tells somebody of everything that goes over it, message by message. Not for what a carrier puts around
// its messages.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string_view>

#include "core/base/timeline.hpp"
#include "instruments/transport/link.hpp"

namespace eyelevel::transport {

struct Traced {
  base::Duration at{};     // on the Timeline
  std::string_view what;   // "sent", "came", "came in part", "cleared", "triggered", "polled", ...
  std::string_view bytes;  // of the message; the status byte in digits for "polled"
};

// `tell` is called while the message is still there and must not throw.
std::unique_ptr<Link> traced(std::unique_ptr<Link> link, const base::Timeline& timeline,
                             std::function<void(const Traced&)> tell);

}  // namespace eyelevel::transport
