// SPDX-License-Identifier: Apache-2.0
// Any bytes as a whole response: its message lies inside, and only a terminator is taken from its end.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <memory>

#include "instruments/transport/hislip/codec.hpp"

using namespace eyelevel::transport::hislip;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto exact = std::make_unique<char[]>(size);
  if (size > 0) std::memcpy(exact.get(), data, size);
  const std::string_view bytes(exact.get(), size);
  const auto found = read_ended_response(bytes, 4096);
  if (!found.fault.empty()) return 0;
  if (found.message_bytes > size) std::abort();
  const auto end = bytes.substr(found.message_bytes);
  if (!end.empty() && end != "\n" && end != "\r\n") std::abort();
  return 0;
}
