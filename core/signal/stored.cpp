// SPDX-License-Identifier: Apache-2.0
#include "core/signal/stored.hpp"

#include <fmt/format.h>

#include <array>
#include <string_view>
#include <utility>

#include "core/signal/csv.hpp"
#include "core/signal/npy.hpp"
#include "core/signal/raw.hpp"
#include "core/signal/wav.hpp"

namespace eyelevel::signal {

std::string rate_text(double rate_hz) {
  constexpr std::array<const char*, 4> prefixes{"", "k", "M", "G"};
  std::size_t i = 0;
  while (rate_hz >= 1000 && i + 1 < prefixes.size()) {
    rate_hz /= 1000;
    ++i;
  }
  return fmt::format("{:.6g} {}Sa/s", rate_hz, prefixes[i]);
}

std::unique_ptr<SampleStream> open_waveform(std::span<const std::byte> bytes, const ReadOptions& options,
                                            Release release) {
  if (options.format) return open_raw(bytes, options, std::move(release));
  if (is_npy(bytes)) return open_npy(bytes, options, std::move(release));
  if (is_wav(bytes)) return open_wav(bytes, options, std::move(release));
  return open_csv({reinterpret_cast<const char*>(bytes.data()), bytes.size()}, options, std::move(release));
}

}  // namespace eyelevel::signal
