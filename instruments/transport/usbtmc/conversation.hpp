// SPDX-License-Identifier: Apache-2.0
// What the client (client.hpp) and its recovery (recovery.hpp) share about one open interface: the pipe, the tags,
// which transfers are open, and a read of one packet that outlives whoever waits for it. USBTMC 4.2.1.4 wants the abort
// of an answer to begin while the computer still reads: a wait that is cancelled must not take its read with it. One
// thread.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"
#include "instruments/transport/usbtmc/pipe.hpp"
#include "instruments/transport/usbtmc/quirks.hpp"

namespace eyelevel::transport::usbtmc {

// Opens the interface, at first and again after it was gone. Throws TransportError.
using OpenPipe = std::function<task<std::shared_ptr<Pipe>>()>;

// One packet of Bulk-IN.
class PacketRead {
 public:
  PacketRead();
  PacketRead(const PacketRead&) = delete;
  PacketRead& operator=(const PacketRead&) = delete;
  ~PacketRead();

  // Begins to read unless a read is under way or its result waits.
  task<> start(std::shared_ptr<Pipe> pipe);
  // The packet, read now or before. Cancelling the wait leaves the read under way. bytes() is valid until the next
  // start() or take().
  task<Moved> take(std::shared_ptr<Pipe> pipe);
  std::string_view bytes() const;
  // Cancels the read, waits for its end, and drops what came.
  task<> stop();
  void forget() noexcept;  // the same without waiting, for the end

 private:
  struct State;
  std::shared_ptr<State> state_;
};

enum class Rung { abort, clear, halts, reset, none };  // of the ladder of recovery.hpp

class Conversation {
 public:
  Conversation(base::Timeline& clock, std::string resource_name, Quirks known)
      : timeline(clock), name(std::move(resource_name)), quirks(known) {}

  base::Timeline& timeline;
  std::string name;
  Quirks quirks;
  std::shared_ptr<Pipe> pipe;
  PacketRead packet;
  bool gone = true;
  bool fresh = true;  // opened or reset: capabilities, REN and Interrupt-IN are to be seen to
  std::uint8_t last_tag = 0;
  std::optional<std::uint8_t> open_out;  // bTag of a transfer that is not known to have ended
  std::optional<std::uint8_t> open_in;
  bool tail_open = false;   // the last answer filled its last packet: an empty one, or alignment, may still come
  bool in_stalled = false;  // Bulk-IN was seen halted and has not been cleared
  Rung rung = Rung::abort;  // where the next recovery begins: one that was cancelled goes on higher

  std::uint8_t new_tag() { return last_tag = next_tag(last_tag); }

  // A class request with a time limit of its own, because a wedged instrument never answers one.
  struct Told {
    Trouble trouble = Trouble::none;
    bool silent = false;  // no answer within the limit
    std::string bytes;
    std::optional<Answer> answer;
    bool is(Status status) const { return answer && answer->status == status; }
    std::string text;  // of the trouble or the status, for an error
  };
  task<Told> ask(Request request, std::uint16_t value);
  task<Moved> clear_halt(std::uint8_t endpoint);
  // Keeps `gone` true to what a transfer told.
  Moved seen(Moved moved);

  [[noreturn]] void fail_with(const Moved& moved, std::uint8_t endpoint, std::uint8_t tag, std::string_view doing);
};

std::string name_of(Trouble trouble);

}  // namespace eyelevel::transport::usbtmc
