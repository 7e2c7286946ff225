// SPDX-License-Identifier: Apache-2.0
// One open conversation with an instrument, whatever carries it. The contract for whoever adds a transport (template:
// memory/):
//  - write() sends one whole program message; the link adds its own end (NL, END). It may be called only when no other
//    call on this link is under way: Session (session.hpp) sees to that, and to the deadline.
//  - read() gives one whole response message without its terminator. A definite-length block inside is taken by its
//    length; NL inside a block ends nothing. `into` is cleared, filled and keeps its capacity: reuse it. When the read
//    is cancelled, `into` holds what came so far. More than `most` bytes is Error(bad_answer).
//  - clear() is this transport's device clear or, where there is none, a reconnection: after it, no answer to an
//  earlier
//    message can ever be read. It is called by Session after any time-out or cancellation before the next message.
//  - read() calls tell_progress() after each piece of an answer that comes in several.
//  - cancellation reaches every wait; a cancelled write or read leaves the link dirty (Session remembers).
//  - trigger() and status_byte() go out of band where the carrier can, else they are *TRG and *STB?;
//  wait_for_service(),
//    lock() and remote_local() are refused by name where the carrier has nothing of the kind.
//  - errors: TransportError (error.hpp) with code no_connection, connection_lost, bad_answer; never a bare errno. The
//    record's `where` holds the resource name.
//  - close() may be called at any time and never throws.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <utility>

#include "core/base/timeline.hpp"

namespace eyelevel::transport {

using Buffer = std::string;  // bytes, not text

inline constexpr std::size_t most_response_bytes = std::size_t{256} << 20U;
inline constexpr std::size_t most_identity_bytes = 1024;  // of an answer to *IDN?

// How many bytes of an answer are here, and of how many; 0 when no block at its beginning says so.
using Progress = std::function<void(std::size_t bytes, std::size_t of)>;

enum class RemoteLocal { remote, local, lockout };  // lockout: remote, and the front panel's LOCAL key is dead

class Link {
 public:
  Link() = default;
  Link(const Link&) = delete;
  Link& operator=(const Link&) = delete;
  virtual ~Link() = default;

  virtual const std::string& resource_name() const = 0;  // canonical
  virtual task<> write(std::string_view message) = 0;
  virtual task<> read(Buffer& into, std::size_t most = most_response_bytes) = 0;
  // write() and read() in one, for carriers that are faster so.
  virtual task<> query(std::string_view message, Buffer& into, std::size_t most = most_response_bytes);
  virtual task<> clear() = 0;
  virtual task<> trigger();
  // The status byte of a serial poll: RQS in bit 6, cleared by the poll; with *STB? it is MSS and nothing is cleared.
  virtual task<std::uint8_t> status_byte();
  // Returns when the instrument asks for service, at once if it asked since the last call; poll it then.
  virtual task<> wait_for_service();
  // An empty key asks for the exclusive lock, any other for the one shared by all who give the same key. Waits for
  // others at most `wait`, then TransportError(no_connection) that says who holds the instrument as far as it is known.
  virtual task<> lock(std::string key, base::Duration wait);
  virtual task<> unlock();
  virtual task<> remote_local(RemoteLocal what);
  virtual void close() noexcept = 0;
  // After a time-out, why the instrument may be silent, in words, where the carrier can ask beside the conversation;
  // empty: nothing is known. Session bounds the wait; clear() comes before the next message in any case.
  virtual task<std::string> why_silent();
  // What came since the last write() and was no answer to it, in words for a message: "2 answers to other messages
  // came"; empty: nothing did.
  virtual std::string ignored() const { return {}; }
  // Told while answers come; empty: nobody is. Must neither throw nor use the link.
  virtual void on_progress(Progress told) { progress_ = std::move(told); }

 protected:
  void tell_progress(std::string_view so_far) const;
  static std::string answers_to_others(std::size_t count);
  [[noreturn]] void refuse(std::string_view what) const;  // this carrier has no such thing

 private:
  Progress progress_;
};

}  // namespace eyelevel::transport
