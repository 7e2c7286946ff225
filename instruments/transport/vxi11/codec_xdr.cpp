// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/codec_xdr.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace eyelevel::transport::vxi11 {

void XdrWriter::u32(std::uint32_t value) {
  for (const unsigned shift : {24U, 16U, 8U, 0U}) out_ += static_cast<char>((value >> shift) & 0xFFU);
}

void XdrWriter::opaque(std::string_view bytes) {
  u32(static_cast<std::uint32_t>(bytes.size()));
  out_ += bytes;
  out_.append(padding_of(bytes.size()), '\0');
}

std::uint32_t XdrReader::u32(std::string_view field) {
  if (!fault_.empty()) return 0;
  if (bytes_.size() - at_ < 4) {
    fault_ = fmt::format("byte {}: {} needs 4 bytes, {} are there", at_ + 1, field, bytes_.size() - at_);
    return 0;
  }
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < 4; ++i) value = (value << 8U) | static_cast<unsigned char>(bytes_[at_ + i]);
  at_ += 4;
  return value;
}

std::string_view XdrReader::opaque(std::string_view field, std::size_t most) {
  const std::size_t begin = at_;
  const std::size_t length = u32(field);
  if (!fault_.empty()) return {};
  const std::size_t left = bytes_.size() - at_;
  if (length > most) {
    fault_ =
        fmt::format("byte {}: {} is said to have {} bytes, at most {} are allowed", begin + 1, field, length, most);
  } else if (length > left) {
    fault_ = fmt::format("byte {}: {} is said to have {} bytes, {} are there", begin + 1, field, length, left);
  }
  if (!fault_.empty()) return {};
  const auto data = bytes_.substr(at_, length);
  at_ += std::min(left, length + padding_of(length));
  return data;
}

}  // namespace eyelevel::transport::vxi11
