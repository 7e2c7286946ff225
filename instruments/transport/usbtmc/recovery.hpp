// SPDX-License-Identifier: Apache-2.0
// Makes an interface usable again after whatever went wrong, rung by rung (USBTMC 4.2.1): abort what is open; clear;
// CLEAR_FEATURE on both endpoints and clear again; port reset; then the user must act. Each loop is bounded by count
// and time. A recovery that is cancelled on a rung goes on with the next one when it is called again, so that a short
// limit of the caller still reaches the top.
#pragma once

#include "instruments/transport/usbtmc/conversation.hpp"

namespace eyelevel::transport::usbtmc {

// After it no answer to an earlier message can be read; conversation.fresh says whether it was opened anew or reset.
// Throws TransportError(connection_lost) when the port was reset (the link is usable, settings may be lost) or nothing
// helps.
task<> recover(Conversation& conversation, const OpenPipe& open);

}  // namespace eyelevel::transport::usbtmc
