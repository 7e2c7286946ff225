// SPDX-License-Identifier: Apache-2.0
// The client half of USBTMC 1.0 and USB488 1.0 over any pipe (pipe.hpp). Answers of several transfers, and transfers of
// many packets, go straight into the caller's buffer but for the first packet of each, which carries the header and is
// read by itself: its TransferSize tells how much to read, so that an instrument that forgets the empty packet at the
// end is waited for no longer than one that sends it. What instruments need beyond the standard is in quirks.hpp.
// Interface and thus instrument belong to one program at a time: the exclusive lock is held by whoever has opened.
#pragma once

#include <memory>
#include <string>

#include "core/base/timeline.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/usbtmc/conversation.hpp"
#include "instruments/transport/usbtmc/quirks.hpp"

namespace eyelevel::transport::usbtmc {

// Opens by `open`, asks GET_CAPABILITIES and asserts REN where it is known. Throws TransportError. `open` is kept for
// clear() after the instrument was unplugged.
task<std::unique_ptr<Link>> connect(base::Timeline& timeline, std::string resource_name, OpenPipe open, Quirks quirks);

}  // namespace eyelevel::transport::usbtmc
