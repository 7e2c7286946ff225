// SPDX-License-Identifier: Apache-2.0
// XDR (RFC 4506): everything big-endian in multiples of four bytes; opaque data and strings are led by their length and
// padded with zeros. Writes append; reads never leave the given bytes and remember the first fault, so that a whole
// structure is read first and judged once. No I/O here.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace eyelevel::transport::vxi11 {

// Zero bytes that follow opaque data of this length (RFC 4506, 4.10).
constexpr std::size_t padding_of(std::size_t bytes) { return (4 - bytes % 4) % 4; }

class XdrWriter {
 public:
  explicit XdrWriter(std::string& out) : out_(out) {}
  void u32(std::uint32_t value);
  void i32(std::int32_t value) { u32(static_cast<std::uint32_t>(value)); }
  void boolean(bool value) { u32(value ? 1 : 0); }
  void opaque(std::string_view bytes);

 private:
  std::string& out_;
};

class XdrReader {
 public:
  explicit XdrReader(std::string_view bytes) : bytes_(bytes) {}

  // `field` names what is read in a fault. After a fault everything reads as zero or empty.
  std::uint32_t u32(std::string_view field);
  std::int32_t i32(std::string_view field) { return static_cast<std::int32_t>(u32(field)); }
  // XDR knows 0 and 1 only (RFC 4506, 4.4); any other value counts as true, as C programs send it.
  bool boolean(std::string_view field) { return u32(field) != 0; }
  // A view into the bytes; more than `most` is a fault. Missing padding at the very end is let pass.
  std::string_view opaque(std::string_view field, std::size_t most);

  std::size_t at() const { return at_; }
  std::string_view rest() const { return bytes_.substr(at_); }
  bool good() const { return fault_.empty(); }
  const std::string& fault() const { return fault_; }  // names the field and its byte, counted from 1

 private:
  std::string_view bytes_;
  std::size_t at_ = 0;
  std::string fault_;
};

}  // namespace eyelevel::transport::vxi11
