// SPDX-License-Identifier: Apache-2.0
// Any bytes on a raw socket, in pieces and at once, both ways: the same message is found, inside the bytes.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>

#include "instruments/transport/socket/codec.hpp"

using namespace eyelevel::transport::socket;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 2) return 0;
  const auto direction = (data[0] & 1U) != 0 ? Direction::program : Direction::response;
  const std::size_t step = 1 + data[0] / 2U;
  const std::size_t limit = std::size_t{1} << (data[1] % 24U);
  const std::size_t count = size - 2;
  const auto exact = std::make_unique<char[]>(count);
  for (std::size_t i = 0; i < count; ++i) exact[i] = static_cast<char>(data[i + 2]);
  const std::string_view bytes(exact.get(), count);
  Framer whole(direction, limit);
  const auto at_once = whole.scan(bytes);
  if (at_once.complete && (at_once.consumed > count || at_once.message_bytes >= at_once.consumed)) std::abort();
  Framer piecewise(direction, limit);
  for (std::size_t length = 0;; length = std::min(length + step, count)) {
    const auto found = piecewise.scan(bytes.substr(0, length));
    if (found.complete) {
      // In pieces an end may be found before a limit is passed that all bytes at once pass too; never another end.
      if (at_once.complete && (found.consumed != at_once.consumed || found.message_bytes != at_once.message_bytes))
        std::abort();
      break;
    }
    if (!found.fault.empty() || length == count) break;
  }
  return 0;
}
