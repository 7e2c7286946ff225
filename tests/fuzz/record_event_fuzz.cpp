// SPDX-License-Identifier: Apache-2.0
// A store may come from anywhere: its events and chunks must be read or refused, never trusted for a length.
#include <boost/json/value.hpp>

#include <cstddef>
#include <cstdint>
#include <vector>

#include "core/base/error.hpp"
#include "core/record/journal/chunks.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"

using namespace eyelevel;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> copy(data, data + size);
  try {
    const auto json = record::parse_json({copy.data(), copy.size()}, "input");
    if (json.is_object()) {
      record::samples_of(json.get_object());
      record::to_json(record::event_from_json(json.get_object()));
    }
  } catch (const base::Error& refused) {
    (void)refused;
  }
  if (size < 2) return 0;
  const auto* bytes = reinterpret_cast<const std::byte*>(data);
  const std::vector<record::Chunk> chunks{record::Chunk(bytes + 1, bytes + size)};
  try {
    record::unpack("int8", data[0], chunks);
  } catch (const base::Error& refused) {
    (void)refused;
  }
  return 0;
}
