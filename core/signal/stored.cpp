// SPDX-License-Identifier: Apache-2.0
#include "core/signal/stored.hpp"

#include <string_view>

#include "core/signal/csv.hpp"
#include "core/signal/npy.hpp"

namespace eyelevel::signal {

StoredWaveform read_waveform(std::span<const std::byte> bytes, const ReadOptions& options) {
  if (is_npy(bytes)) return read_npy(bytes, options);
  return read_csv({reinterpret_cast<const char*>(bytes.data()), bytes.size()}, options);
}

}  // namespace eyelevel::signal
