// SPDX-License-Identifier: Apache-2.0
// What some USBTMC instruments need that the standard does not. Each is off, or a size that suits an instrument that
// keeps the standard; a phrasebook switches on what its instrument was seen to need. What can be got right for both
// kinds without a switch is not here: answers of a whole number of packets with or without the empty packet behind
// them, empty packets before an answer, alignment bytes of any number, missing capabilities, an unknown
// READ_STATUS_BYTE.
#pragma once

#include <cstdint>

#include "core/base/timeline.hpp"

namespace eyelevel::transport::usbtmc {

struct Quirks {
  // The largest TransferSize that is asked for. Some firmware fails beyond its own buffer (often 1 KiB to 1 MiB).
  std::uint32_t most_request_bytes = std::uint32_t{1} << 20U;
  // The largest piece of a program message in one transfer. Some firmware loses bytes when a message is split: make it
  // larger than the longest message.
  std::uint32_t most_out_bytes = std::uint32_t{1} << 20U;
  // Only the first transfer of a long answer has a header, and a new request would begin the answer anew: the block's
  // own length is believed, and reading goes on without a request.
  bool header_once = false;
  // EOM is set before the end of a block: the block's length is believed.
  bool eom_too_early = false;
  // EOM is never set: a text ends with NL at the end of a transfer, a block by its length.
  bool eom_missing = false;
  // The header of an answer repeats another bTag than the request's, or a wrong inverse of it.
  bool wrong_tag = false;
  // The header of an answer has MsgID 1 instead of 2.
  bool wrong_msg_id = false;
  // More is sent than the request allows.
  bool more_than_asked = false;
  // Packets inside an answer are short; only TransferSize tells the end.
  bool short_packets_inside = false;
  // GET_CAPABILITIES confuses the firmware: do not ask.
  bool no_capabilities = false;
  // READ_STATUS_BYTE answers nonsense: ask *STB? instead.
  bool no_status_request = false;
  // The status byte comes in the answer of READ_STATUS_BYTE although there is an Interrupt-IN endpoint.
  bool status_in_answer = false;
  // Needs a clear right after opening, because it still waits for whoever died during a read.
  bool clear_on_open = false;
  // INITIATE_CLEAR never ends or wedges the firmware: recovery is abort and CLEAR_FEATURE, and a late answer is
  // recognised only by the instrument itself (IEEE 488.2, 6.3.2.3: a new message drops an unread answer).
  bool no_clear = false;
  // A port reset makes it vanish until it is switched off and on.
  bool no_reset = false;
  // Ignores messages until REN_CONTROL is asserted, though its capabilities do not say that it knows it.
  bool assert_remote = false;
  // Needs this time between the end of one exchange and the next message.
  base::Duration pause_between_messages{0};
};

}  // namespace eyelevel::transport::usbtmc
