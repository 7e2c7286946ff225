// SPDX-License-Identifier: Apache-2.0
// Any bytes as a stream of HiSLIP messages, from either side on either connection: what is read is inside the bytes,
// comes back from its own encoding, and is judged without a crash.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <memory>

#include "instruments/transport/hislip/codec.hpp"

using namespace eyelevel::transport::hislip;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 1) return 0;
  const auto connection = (data[0] & 1U) != 0 ? Connection::synchronous : Connection::asynchronous;
  const auto sender = (data[0] & 2U) != 0 ? Sender::client : Sender::server;
  std::size_t left = size - 1;
  const auto exact = std::make_unique<char[]>(left);
  std::memcpy(exact.get(), data + 1, left);
  std::string_view rest(exact.get(), left);
  while (!rest.empty()) {
    const auto found = read_header(rest);
    if (!found.complete) {
      // A wrong beginning, or not enough bytes yet.
      if (found.fault.empty() && rest.size() >= header_bytes) std::abort();
      break;
    }
    const auto bytes = encode(found.header);
    if (std::string_view(bytes.data(), bytes.size()) != rest.substr(0, header_bytes)) std::abort();
    rest.remove_prefix(header_bytes);
    const auto payload = rest.substr(0, found.header.payload_bytes);
    if (fault_of(found.header, connection, sender).empty() && found.header.payload_bytes == 8 && payload.size() == 8) {
      const std::size_t usable = usable_payload(read_size(payload), 1000);
      if (usable > 1000 || usable > read_size(payload)) std::abort();
    }
    if (name_of(found.header.type).empty() || error_text(found.header.control).empty()) std::abort();
    rest.remove_prefix(payload.size());
  }
  return 0;
}
