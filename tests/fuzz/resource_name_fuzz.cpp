// SPDX-License-Identifier: Apache-2.0
// Any bytes as a resource name: refused with bad_input, or canonical, and then the canonical form means the same.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>

#include "core/base/error.hpp"
#include "instruments/transport/resource_name.hpp"

using namespace eyelevel;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto exact = std::make_unique<char[]>(size);
  for (std::size_t i = 0; i < size; ++i) exact[i] = static_cast<char>(data[i]);
  try {
    const auto name = transport::parse_resource_name(std::string_view(exact.get(), size));
    const auto canonical = name.canonical();
    if (transport::parse_resource_name(canonical).canonical() != canonical) std::abort();
  } catch (const base::Error& error) {
    if (error.record().code != base::ErrorCode::bad_input) std::abort();
  }
  return 0;
}
