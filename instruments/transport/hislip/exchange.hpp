// SPDX-License-Identifier: Apache-2.0
// The rules of HiSLIP that need a memory (IVI-6.1, 3.1 and 3.2): message ids, RMT-delivered, what is dropped when an
// exchange was interrupted, message available, remote and local. One object for each side of one session; it is told
// what was sent and received and says what follows. No I/O, no time.
#pragma once

#include <cstdint>
#include <optional>

#include "instruments/transport/link.hpp"

namespace eyelevel::transport::hislip {

enum class Mode { synchronised, overlapped };

inline constexpr std::uint32_t first_message_id = 0xFFFFFF00;    // after initialisation and after device clear
inline constexpr std::uint32_t before_first_id = 0xFFFFFEFE;     // nothing was sent yet
inline constexpr std::uint32_t unknown_message_id = 0xFFFFFFFF;  // of Data whose request is not known

class ClientExchange {
 public:
  explicit ClientExchange(Mode mode = Mode::synchronised) : mode_(mode) {}
  Mode mode() const { return mode_; }

  struct Stamp {
    std::uint32_t id = 0;
    bool rmt_delivered = false;
  };
  // For the next Data, DataEND or Trigger.
  Stamp stamp_message();
  // For AsyncStatusQuery. Overlapped: the id of the response that was last delivered.
  Stamp stamp_status_query();
  // For the release of a lock and for AsyncRemoteLocalControl: all up to this message is to be finished first.
  std::uint32_t last_sent() const { return last_sent_; }

  enum class Take {
    keep,          // belongs to the response
    drop,          // does not answer the last message: forget it and what was kept of a response before
    out_of_count,  // overlapped: a message before it is missing, or came twice
  };
  Take on_data(std::uint32_t id, bool end);
  // Overlapped: the id that the next message of the server must have (3.2).
  std::uint32_t next_from_server() const { return next_from_server_; }
  // A complete response was handed to the application.
  void delivered(std::uint32_t id);
  // Both must have been seen before the client goes on (rule 4). What was kept of a response is to be forgotten.
  void on_interrupted();
  void on_async_interrupted();
  bool waits_for_interrupted() const { return interrupted_ < async_interrupted_; }
  bool waits_for_async_interrupted() const { return async_interrupted_ < interrupted_; }

 private:
  bool is_counted(std::uint32_t id, bool end);

  Mode mode_;
  std::uint32_t next_ = first_message_id;
  std::uint32_t last_sent_ = before_first_id;
  std::uint32_t last_delivered_ = before_first_id;
  std::uint32_t next_from_server_ = first_message_id;
  bool within_response_ = false;
  bool rmt_delivered_ = false;
  std::uint64_t interrupted_ = 0;
  std::uint64_t async_interrupted_ = 0;
};

class ServerExchange {
 public:
  explicit ServerExchange(Mode mode = Mode::synchronised) : mode_(mode) {}
  Mode mode() const { return mode_; }

  // Data, DataEND or Trigger came. True: the response before was never read, which is the query error -410.
  bool on_message(std::uint32_t id, bool rmt_delivered);
  // A response was produced while the next message waits: it is dropped, and so the client is told. Only synchronised.
  bool is_interrupted_by_waiting() const { return mode_ == Mode::synchronised; }
  // The id that a response to this message carries.
  std::uint32_t response_id(std::uint32_t request_id);
  void response_begins(std::uint32_t id);
  void response_ends();
  // The bit that the status response shows (6.14).
  bool message_available(std::uint32_t query_id, bool rmt_delivered);
  // A response is out that the client has not said to have read; not known in overlapped mode.
  bool response_waits() const { return mode_ == Mode::synchronised && available_; }

 private:
  Mode mode_;
  std::uint32_t next_ = first_message_id;  // overlapped
  std::uint32_t last_received_ = before_first_id;
  std::uint32_t last_response_ = before_first_id;
  bool rmt_expected_ = false;
  bool available_ = false;
};

// One message id is behind the other; they wrap.
bool is_behind(std::uint32_t id, std::uint32_t other);

// AsyncRemoteLocalControl (6.7): three switches, and what the device sees of a change.
class RemoteSwitches {
 public:
  struct Change {
    bool known = true;  // false: no such request, an error 2
    std::optional<RemoteLocal> device;
  };
  Change request(std::uint8_t code);
  bool remote_enable() const { return remote_enable_; }
  bool remote() const { return remote_; }
  bool local_lockout() const { return local_lockout_; }

 private:
  bool remote_enable_ = true;
  bool remote_ = false;
  bool local_lockout_ = false;
};
std::uint8_t request_code(RemoteLocal what);

}  // namespace eyelevel::transport::hislip
