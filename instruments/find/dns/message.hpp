// SPDX-License-Identifier: Apache-2.0
// DNS messages as multicast DNS and service discovery use them (RFC 1035 section 4, RFC 2782, RFC 3596, RFC 6762
// section 18, RFC 6763 section 6): bytes to structs and back, no I/O. What comes is hostile: a compression pointer must
// point before the name that it continues (RFC 1035, 4.1.4: "a prior occurrence"), so no loop is possible; labels,
// names and messages have the limits of the standards; counts are believed only as far as bytes follow.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace eyelevel::find::dns {

inline constexpr std::size_t most_message_bytes = 9000;  // RFC 6762, 17
inline constexpr std::size_t most_name_bytes = 255;      // RFC 1035, 2.3.4, lengths and the root's zero included
inline constexpr std::size_t most_label_bytes = 63;

// Labels without the root's. A label may hold any bytes; names are compared without case (ASCII only).
struct Name {
  std::vector<std::string> labels;

  bool operator==(const Name& other) const;
  bool operator<(const Name& other) const;
  bool ends_with(const Name& end) const;
};

// "_lxi._tcp.local", split at each dot. Throws std::invalid_argument for a label or name that is too long or empty: the
// caller's own text only.
Name name_of(std::string_view text);
// `name` with one label before it, which may hold dots.
Name below(std::string_view label, const Name& name);
// Labels with dots between them; dots, backslashes and what is not printable ASCII inside a label are escaped as in
// RFC 1035, 5.1: \. and \DDD.
std::string text_of(const Name& name);

enum class Type : std::uint16_t { a = 1, ptr = 12, txt = 16, aaaa = 28, srv = 33, any = 255 };

inline constexpr std::uint16_t class_in = 1;
inline constexpr std::uint16_t class_any = 255;

struct Question {
  Name name;
  Type type = Type::ptr;
  std::uint16_t dns_class = class_in;
  bool unicast = false;  // the QU bit: an answer to the asker alone is preferred (RFC 6762, 5.4)
};

struct Ptr {
  Name target;
  bool operator==(const Ptr&) const = default;
};
struct Srv {
  std::uint16_t priority = 0;
  std::uint16_t weight = 0;
  std::uint16_t port = 0;
  Name target;
  bool operator==(const Srv&) const = default;
};
struct Txt {
  std::vector<std::string> strings;  // each 255 bytes at most
  bool operator==(const Txt&) const = default;
};
struct A {
  std::array<std::uint8_t, 4> address{};
  bool operator==(const A&) const = default;
};
struct Aaaa {
  std::array<std::uint8_t, 16> address{};
  bool operator==(const Aaaa&) const = default;
};
struct Other {  // not looked into
  std::string bytes;
  bool operator==(const Other&) const = default;
};
using Data = std::variant<Other, Ptr, Srv, Txt, A, Aaaa>;

struct Record {
  Name name;
  Type type = Type::ptr;
  std::uint16_t dns_class = class_in;
  bool flush = false;  // the cache-flush bit: older records of this name and type are void (RFC 6762, 10.2)
  std::uint32_t ttl_s = 0;
  Data data;
};

struct Message {
  std::uint16_t id = 0;
  bool response = false;
  bool authoritative = false;
  bool truncated = false;
  std::uint8_t opcode = 0;
  std::uint8_t response_code = 0;
  std::vector<Question> questions;
  std::vector<Record> answers;
  std::vector<Record> authorities;
  std::vector<Record> additionals;
};

struct Parsed {
  std::optional<Message> message;
  std::string fault;  // when there is none: which byte, counted from 0, and why
};

// Never throws but for lack of memory.
Parsed parse(std::string_view bytes);

// Names are compressed, but not the target of SRV (RFC 2782 forbids it; RFC 6762, 18.14 asks it of answers to plain DNS
// clients). Throws std::length_error when the message does not fit into `most` bytes, std::invalid_argument for a
// label, name or string that is too long.
std::string encode(const Message& message, std::size_t most = most_message_bytes);

}  // namespace eyelevel::find::dns
