// SPDX-License-Identifier: Apache-2.0
// An installed VISA library, loaded when it is first needed: the functions of VPP-4.3.2 that a message-based session
// takes, in its C calling form (types as its visatype.h has them on 64-bit Linux: 32-bit sessions and status codes,
// 64-bit attribute values). For carriers that this program does not speak itself, above all GPIB. Its calls block: they
// belong on a thread of their own. Numbers: VPP-4.3, from memory but for the completion codes.
#pragma once

#include <cstdint>
#include <memory>
#include <string>

namespace eyelevel::transport::visa {

using Session = std::uint32_t;
using Status = std::int32_t;

inline constexpr Status success = 0;
inline constexpr Status success_termination_character = 0x3FFF0005;
inline constexpr Status success_most_bytes = 0x3FFF0006;
inline constexpr Status time_out = static_cast<Status>(0xBFFF0015);
inline constexpr Status locked = static_cast<Status>(0xBFFF000F);
inline constexpr Status not_found = static_cast<Status>(0xBFFF0011);
inline constexpr Status unsupported = static_cast<Status>(0xBFFF0067);
inline constexpr Status connection_lost = static_cast<Status>(0xBFFF00A6);

inline constexpr std::uint32_t attribute_time_out = 0x3FFF001A;  // milliseconds
inline constexpr std::uint32_t attribute_termination_character_on = 0x3FFF0038;
inline constexpr std::uint32_t attribute_send_end = 0x3FFF0016;
inline constexpr std::uint32_t event_service_request = 0x3FFF200B;
inline constexpr std::uint16_t mechanism_queue = 1;
inline constexpr std::uint32_t exclusive_lock = 1;
inline constexpr std::uint32_t shared_lock = 2;

// Every function of the library that is used. Null where the library has none (only those from `enable_event` on may
// be).
struct Functions {
  Status (*open_default_manager)(Session*) = nullptr;
  Status (*open)(Session, const char* name, std::uint32_t mode, std::uint32_t time_out_ms, Session*) = nullptr;
  Status (*close)(Session) = nullptr;
  Status (*set_attribute)(Session, std::uint32_t attribute, std::uint64_t value) = nullptr;
  Status (*write)(Session, const unsigned char*, std::uint32_t count, std::uint32_t* written) = nullptr;
  Status (*read)(Session, unsigned char*, std::uint32_t count, std::uint32_t* got) = nullptr;
  Status (*clear)(Session) = nullptr;
  Status (*assert_trigger)(Session, std::uint16_t protocol) = nullptr;
  Status (*read_status_byte)(Session, std::uint16_t* status) = nullptr;
  Status (*lock)(Session, std::uint32_t kind, std::uint32_t time_out_ms, const char* wanted, char* given) = nullptr;
  Status (*unlock)(Session) = nullptr;
  Status (*describe)(Session, Status, char* text) = nullptr;  // 256 bytes
  Status (*enable_event)(Session, std::uint32_t event, std::uint16_t mechanism, std::uint32_t context) = nullptr;
  Status (*wait_on_event)(Session, std::uint32_t event, std::uint32_t time_out_ms, std::uint32_t* which,
                          Session* context) = nullptr;
};

class Library {
 public:
  // `file` as dlopen takes it: a name that the system looks for, or a path. Throws base::Error(not_found) that says
  // what is missing.
  explicit Library(const std::string& file);
  Library(const Library&) = delete;
  Library& operator=(const Library&) = delete;
  ~Library();

  const Functions& call() const { return functions_; }
  Session manager() const { return manager_; }
  // "VI_ERROR_TMO" in the library's own words, with the number.
  std::string words_for(Session session, Status status) const;

 private:
  void* handle_ = nullptr;
  Functions functions_;
  Session manager_ = 0;
};

}  // namespace eyelevel::transport::visa
