// SPDX-License-Identifier: Apache-2.0
// Any bytes as a DNS message: refused with the byte, or read; what was read can be written, and reads the same again.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <stdexcept>

#include "instruments/find/dns/message.hpp"

using namespace eyelevel::find;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto exact = std::make_unique<char[]>(size);
  for (std::size_t i = 0; i < size; ++i) exact[i] = static_cast<char>(data[i]);
  const auto parsed = dns::parse(std::string_view(exact.get(), size));
  if (parsed.message.has_value() != parsed.fault.empty()) std::abort();
  if (!parsed.message) return 0;
  std::string bytes;
  try {
    bytes = dns::encode(*parsed.message, std::size_t{16} << 20U);
  } catch (const std::length_error&) {
    return 0;  // names that were pointed at are written out where the writer does not compress
  }
  if (bytes.size() > dns::most_message_bytes) return 0;
  const auto again = dns::parse(bytes);
  if (!again.message || dns::encode(*again.message) != bytes) std::abort();
  return 0;
}
